//! `markhold copy`: the text in recordings.

mod carriage;
mod copying;
mod json;
mod lines;
mod marker;
mod options;
mod output;
mod progress;
mod running;
mod tally;
#[cfg(test)]
mod testing;

pub use options::Options;

use crate::outcome::{Outcome, is_broken_pipe, say};
use anyhow::Context;
use markhold_receive::settings::Settings;
use markhold_station::sound::{SoundError, SoundReader};
use output::Output;
use std::path::Path;

/// Copies each file in turn, with a fresh receiver.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    let settings = options.settings();
    let mut output = options.output();
    let mut outcome = Outcome::NothingFound;
    for file in &options.files {
        let part = match copy(file, options, &settings, &mut *output) {
            Err(error) if is_broken_pipe(&error) => return Err(error),
            Err(error) => {
                say(&format!("markhold: {error:#}"));
                Outcome::Failed
            }
            Ok(part) => part,
        };
        outcome = outcome.and(part);
    }
    Ok(outcome)
}

fn name(file: &Path) -> String {
    match file.to_str() {
        Some("-") => "standard input".to_string(),
        _ => file.display().to_string(),
    }
}

fn open(file: &Path, options: &Options) -> Result<SoundReader, SoundError> {
    let how = options.read_options();
    if file == Path::new("-") {
        SoundReader::from_read(std::io::stdin(), &how)
    } else {
        SoundReader::open(file, &how)
    }
}

/// What the person can do about it on this command line.
fn hint(error: SoundError) -> anyhow::Error {
    let hint = match &error {
        SoundError::NotSound { .. } => "; for bare samples: --raw RATE,FORMAT",
        SoundError::Rate { found: 0 } => "; for that: --raw RATE,FORMAT",
        SoundError::NoSuchChannel { .. } => " (--channel)",
        _ => return error.into(),
    };
    anyhow::anyhow!("{error}{hint}")
}

fn copy(
    file: &Path,
    options: &Options,
    settings: &Settings,
    output: &mut dyn Output,
) -> anyhow::Result<Outcome> {
    let name = name(file);
    let sound = open(file, options)
        .map_err(hint)
        .with_context(|| name.clone())?;
    if options.files.len() > 1 {
        say(&format!("{name}: {}", sound.describe()));
    }
    copying::copy(&name, sound, settings, output)
}
