//! Counts a language model from plain text.
//!
//! ```text
//! train TEXT... --out FILE [--order N] [--least BITS] [--held-out FILE]
//! ```
//!
//! The same text gives the same file, byte for byte.

use std::path::PathBuf;
use std::process::ExitCode;

use markhold_language::{counted::Counted, pruned::prune, tokens::tokens, trie::Trie};

struct Options {
    texts: Vec<PathBuf>,
    out: Option<PathBuf>,
    held_out: Vec<PathBuf>,
    order: usize,
    least: f32,
}

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("train: {error}");
            ExitCode::FAILURE
        }
    }
}

fn run() -> Result<(), String> {
    let options = read_options()?;
    let mut all = Vec::new();
    for path in &options.texts {
        all.extend(tokens(&read(path)?));
    }
    eprintln!("{} tokens, order {}", all.len(), options.order);
    let counted = Counted::new(&all, options.order);
    let full = Trie::new(&counted);
    let trie = Trie::new(&prune(counted, options.least));
    let bytes = trie.to_bytes();
    eprintln!(
        "{} n-grams of {} kept, {} bytes",
        trie.grams(),
        full.grams(),
        bytes.len()
    );
    for path in &options.held_out {
        let held_out = tokens(&read(path)?);
        let (all, kept) = (full.bits(&held_out), trie.bits(&held_out));
        eprintln!(
            "{}: {all:.3} bits a token with all, {kept:.3} with those kept",
            path.display()
        );
    }
    match &options.out {
        Some(path) => std::fs::write(path, bytes).map_err(|e| format!("{}: {e}", path.display())),
        None => Ok(()),
    }
}

fn read(path: &PathBuf) -> Result<String, String> {
    std::fs::read_to_string(path).map_err(|e| format!("{}: {e}", path.display()))
}

fn read_options() -> Result<Options, String> {
    let mut options = Options {
        texts: vec![],
        out: None,
        held_out: vec![],
        order: 6,
        least: 8.0,
    };
    let mut arguments = std::env::args().skip(1);
    while let Some(argument) = arguments.next() {
        let mut value = || arguments.next().ok_or(format!("{argument} needs a value"));
        match argument.as_str() {
            "--out" => options.out = Some(value()?.into()),
            "--held-out" => options.held_out.push(value()?.into()),
            "--order" => options.order = number(&value()?, 1.0, 8.0)? as usize,
            "--least" => options.least = number(&value()?, 0.0, 1e9)?,
            other if other.starts_with("--") => return Err(format!("{other} is not understood")),
            text => options.texts.push(text.into()),
        }
    }
    if options.texts.is_empty() {
        return Err("give text files; tools/corpus gathers them".into());
    }
    Ok(options)
}

fn number(text: &str, low: f32, high: f32) -> Result<f32, String> {
    match text.parse::<f32>() {
        Ok(number) if (low..=high).contains(&number) => Ok(number),
        _ => Err(format!("'{text}' is no number from {low} to {high}")),
    }
}
