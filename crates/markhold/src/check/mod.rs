//! `markhold check`: what stands in the way on this computer, and what to do about it.
//!
//! Each part is looked at in a file of its own and gives findings; nothing is opened that could
//! key a line or a transmitter.

mod clock;
mod faults;
mod finding;
mod needed;
mod options;
mod ports;
mod real_time;
mod settings;
mod shelf;
mod sound;

pub use options::Options;
#[cfg(test)]
pub use settings::{read_tables, reader_of};

use crate::machine::Outfit;
use crate::outcome::{Outcome, say};
use crate::wanted::{LanguageArgs, RoomArgs, Wanted};
use anyhow::{Context, bail};
use finding::{Finding, Verdict};
use markhold_shelf::{KeepSettings, plain, usual_place};
use needed::Needed;
use serde::Serialize;
use std::io::{Write, stdout};
use std::time::Duration;

/// The form of the JSON lines.
const VERSION: u32 = 1;

/// Looks at everything and tells each as it is known.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    if !(1.0..=600.0).contains(&options.listen) {
        bail!(
            "--listen {}: expected seconds from 1 to 600",
            options.listen
        );
    }
    let file = Outfit {
        settings: options.settings.clone(),
        ..Outfit::default()
    };
    // A file that cannot be read is one thing that is wrong; the others are looked at all the same.
    let (text, settings) = match file.settings_text() {
        Ok(text) => (text.clone(), settings::look(&file.place(), &text)),
        Err(error) => (String::new(), vec![settings::unread(&file.place(), &error)]),
    };
    let needed = Needed::by(&text);
    let heard = sound::Heard {
        input: options.input.as_deref(),
        channel: options.channel,
        span: Duration::from_secs_f64(options.listen),
    };
    let mut verdicts = Vec::new();
    let mut tell = |findings: Vec<Finding>| {
        verdicts.extend(findings.iter().map(|finding| finding.verdict));
        findings
            .iter()
            .try_for_each(|finding| print(finding, options.json))
    };
    tell(settings)?;
    tell(look_at_shelf(options))?;
    tell(vec![clock::look(), real_time::look(&needed)])?;
    tell(ports::look(&needed))?;
    tell(sound::look(&heard))?;
    Ok(sum(&verdicts))
}

fn look_at_shelf(options: &Options) -> Vec<Finding> {
    let (usual, reading) = (RoomArgs::default(), LanguageArgs::default());
    // What is wrong with the settings has been told.
    let wanted = Wanted::of(options.settings.as_ref(), &reading, &usual);
    let keep = wanted.map_or_else(|_| KeepSettings::default(), |wanted| wanted.keep);
    match options.shelf.clone().or_else(usual_place) {
        Some(place) => shelf::look(&place, &keep),
        None => {
            let found = "there is no home folder to keep it in";
            let finding = Finding::good(finding::Part::Shelf, found);
            vec![finding.but(Verdict::Wrong, "name a folder with --shelf DIR")]
        }
    }
}

#[derive(Serialize)]
struct Object<'a> {
    r#type: &'static str,
    version: u32,
    #[serde(flatten)]
    finding: &'a Finding,
}

fn print(finding: &Finding, json: bool) -> anyhow::Result<()> {
    let mut out = stdout().lock();
    if json {
        let object = Object {
            r#type: "finding",
            version: VERSION,
            finding,
        };
        serde_json::to_writer(&mut out, &object)?;
        writeln!(out).context("standard output")?;
    } else {
        let lines = finding.to_string();
        let lines: Vec<String> = lines.split('\n').map(plain).collect();
        writeln!(out, "{}", lines.join("\n")).context("standard output")?;
    }
    // Listening takes seconds: what is known is shown before.
    out.flush().context("standard output")
}

/// How many are wrong, and the exit code.
fn sum(verdicts: &[Verdict]) -> Outcome {
    let count = |one| verdicts.iter().filter(|verdict| **verdict == one).count();
    let (wrong, remarks) = (count(Verdict::Wrong), count(Verdict::Remark));
    say(&match (wrong, remarks) {
        (0, 0) => "nothing is wrong".into(),
        (0, _) => format!("nothing is wrong; {remarks} remarked"),
        _ => format!("{wrong} wrong, {remarks} remarked"),
    });
    match wrong {
        0 => Outcome::Done,
        _ => Outcome::Failed,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_wrong_decides_and_what_is_remarked_does_not() {
        use Verdict::*;
        assert_eq!(sum(&[Good, Remark, Good]), Outcome::Done);
        assert_eq!(sum(&[Good, Wrong, Remark]), Outcome::Failed);
    }
}
