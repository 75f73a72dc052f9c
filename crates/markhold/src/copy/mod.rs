//! `markhold copy`: the text in recordings, or of a sound input while it is heard.

mod copying;
pub mod json;
pub mod lines;
mod live;
pub mod marker;
pub mod options;
pub mod output;
mod piped;
mod progress;
pub mod running;
mod tally;
#[cfg(test)]
mod testing;
mod to_machine;
mod together;

pub use options::Options;

use crate::outcome::{Outcome, say};
use crate::stopping;
use markhold_receive::{Receiver, Settings};
use markhold_sound::{ReadOptions, SoundError, SoundReader};
use output::Output;
use piped::Piped;
use std::path::Path;

/// Copies each file in turn, with a fresh receiver. What is wrong with a file is told and
/// the next one follows; an error is one of the output.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    options.live.check()?;
    if let Some(input) = &options.live.input {
        return live::run(options, input);
    }
    stopping::listen()?;
    let setup = options.setup()?;
    let mut output = options.output(setup.as_ref())?;
    let settings = options.settings(setup.as_ref());
    let mut outcome = Outcome::NothingFound;
    if options.together {
        outcome = together::run(options, &settings, &mut *output)?;
        return Ok(outcome.and(output.close()?));
    }
    for file in options.files.iter().take_while(|_| !stopping::told()) {
        outcome = outcome.and(copy(file, options, &settings, &mut *output)?);
    }
    Ok(match output.close()? {
        Outcome::Failed => Outcome::Failed,
        _ => outcome,
    })
}

fn name(file: &Path) -> String {
    match file.to_str() {
        Some("-") => "standard input".to_string(),
        _ => file.display().to_string(),
    }
}

fn open(file: &Path, options: &Options) -> Result<SoundReader, SoundError> {
    open_as(file, &options.read_options())
}

fn open_as(file: &Path, how: &ReadOptions) -> Result<SoundReader, SoundError> {
    if file == Path::new("-") {
        SoundReader::from_read(Piped::new(std::io::stdin())?, how)
    } else {
        SoundReader::open(file, how)
    }
}

/// The error, with what the person can do about it on this command line.
fn hint(error: &SoundError) -> String {
    let hint = match error {
        SoundError::NotSound { .. } => "; for bare samples: --raw RATE,FORMAT",
        SoundError::Rate { found: 0 } => "; for that: --raw RATE,FORMAT",
        SoundError::NoSuchChannel { .. } => " (--channel)",
        _ => "",
    };
    format!("{error}{hint}")
}

fn copy(
    file: &Path,
    options: &Options,
    settings: &Settings,
    output: &mut dyn Output,
) -> anyhow::Result<Outcome> {
    let name = name(file);
    let sound = match open(file, options) {
        Ok(sound) => sound,
        Err(error) => return Ok(failed(&name, &hint(&error))),
    };
    if options.files.len() > 1 {
        say(&format!("{name}: {}", sound.describe()));
    }
    let receiver = match Receiver::new(f64::from(sound.rate()), settings.clone()) {
        Ok(receiver) => receiver,
        Err(error) => return Ok(failed(&name, &error.to_string())),
    };
    copying::copy(&name, sound, receiver, output)
}

fn failed(name: &str, error: &str) -> Outcome {
    say(&format!("markhold: {name}: {error}"));
    Outcome::Failed
}
