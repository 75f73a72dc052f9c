//! The doubt bench: whether the cause given for a doubtful character is what troubled it.
//!
//! `cargo bench -p markhold-receive --bench doubt -- [part of a name] [--seeds N] [--fit [--into FILE] | --write]`

#[path = "../common/arguments.rs"]
mod arguments;
mod cause;
mod cover;
#[path = "../common/document.rs"]
mod document;
mod fit;
#[path = "../common/listen.rs"]
mod listen;
#[path = "../common/many.rs"]
mod many;
#[path = "../common/regression.rs"]
mod regression;
mod sample;
mod table;
#[path = "../common/text.rs"]
mod text;
mod troubles;

use arguments::Arguments;
use sample::{Sample, listen};
use std::process::ExitCode;
use troubles::Trouble;

/// Seeds for each trouble unless said otherwise.
const SEEDS: u64 = 8;
/// The same for a fit: what is committed was fitted on so many.
const FITTED_SEEDS: u64 = 20;
/// Seeds from here on are kept for fitting; those below it are never fitted to.
const FITTED_FROM: u64 = 1000;
/// Printed characters of text in a scene.
const CHARACTERS: usize = 300;

fn main() -> ExitCode {
    match Arguments::read(std::env::args().skip(1)).and_then(|arguments| run(&arguments)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("{message}");
            ExitCode::from(2)
        }
    }
}

fn run(arguments: &Arguments) -> Result<(), String> {
    if arguments.fit {
        let seeds = arguments.seeds.unwrap_or(FITTED_SEEDS);
        let samples = gather(arguments, FITTED_FROM + 1..=FITTED_FROM + seeds);
        return fit::write(&samples, &arguments.fitted_file("doubt"));
    }
    let seeds = arguments.seeds.unwrap_or(SEEDS);
    let samples = gather(arguments, 1..=seeds);
    let block = format!(
        "{}\n\nSeeds 1 to {seeds}, {}.",
        table::table(&samples),
        document::machine()
    );
    println!("{block}");
    match arguments.write {
        true => document::write("doubt", &block),
        false => Ok(()),
    }
}

/// The characters copied of every trouble with every seed.
fn gather(
    arguments: &Arguments,
    seeds: std::ops::RangeInclusive<u64>,
) -> Vec<(Trouble, Vec<Sample>)> {
    let named = |t: &Trouble| t.name().contains(&arguments.part);
    let troubles: Vec<Trouble> = Trouble::ALL.into_iter().filter(named).collect();
    let jobs: Vec<(Trouble, u64)> = troubles
        .iter()
        .flat_map(|t| seeds.clone().map(|seed| (*t, seed)))
        .collect();
    let mut each = many::each(&jobs, arguments.threads(), |(trouble, seed)| {
        listen(*trouble, *seed, CHARACTERS)
    })
    .into_iter();
    let count = seeds.count();
    let of = |t: Trouble| (t, each.by_ref().take(count).flatten().collect());
    troubles.into_iter().map(of).collect()
}
