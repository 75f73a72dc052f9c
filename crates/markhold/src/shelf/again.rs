//! `markhold shelf again`.

use super::options::Again;
use super::when::Zone;
use crate::choices::Mark;
use crate::outcome::{Outcome, say};
use crate::wanted::Wanted;
use anyhow::bail;
use indicatif::{ProgressBar, ProgressStyle};
use markhold_event::Sense;
use markhold_receive::Settings;
use markhold_shelf::{KeptEvening, Reading, Shelf, settings_from_json};
use std::io::stdout;

pub fn run(shelf: &mut Shelf, again: &Again, wanted: &Wanted) -> anyhow::Result<Outcome> {
    if again.workers.is_some() {
        bail!("--workers is for all evenings: markhold shelf again all --workers 4");
    }
    let evening = super::evening(shelf, &again.evening, &Zone { utc: false })?;
    let settings = Settings {
        language: wanted.language,
        learned: wanted.learned(shelf),
        ..settings(again, &evening)
    };
    let bar = ProgressBar::new(evening.sound_s as u64).with_style(
        ProgressStyle::with_template("{wide_bar} {percent} %, {eta} left")
            .unwrap_or_else(|_| ProgressStyle::default_bar()),
    );
    let reading = shelf.copy_again(evening.id, &settings, &mut |what| match what {
        markhold_shelf::Again::Heard(heard_s, _) => bar.set_position(heard_s as u64),
        markhold_shelf::Again::Damaged(path, why) => {
            bar.suspend(|| say(&format!("markhold: {}: {why}", path.display())));
        }
        markhold_shelf::Again::Event(_) => {}
    })?;
    bar.finish_and_clear();
    tell(shelf, evening.id, reading, again.json)
}

/// How the receiver was set when the evening was heard, except as told.
pub fn settings(again: &Again, evening: &KeptEvening) -> Settings {
    let before = evening.readings.first().map(|reading| &reading.settings);
    let mut settings = before.map(settings_from_json).unwrap_or_default();
    settings.all = again.all || (settings.all && !again.strongest && again.at.is_none());
    if again.all || again.strongest {
        settings.at_hz = None;
    }
    settings.at_hz = again.at.or(settings.at_hz);
    settings.shift_hz = again.shift.or(settings.shift_hz);
    settings.rate_baud = again.rate.or(settings.rate_baud);
    settings.figures_row = again.figures.map(Into::into).or(settings.figures_row);
    settings.unshift_on_space = again.unshift_on_space.or(settings.unshift_on_space);
    let sense = again.mark.map(|mark| match mark {
        Mark::Lower => Sense::LowerTone,
        Mark::Higher => Sense::HigherTone,
    });
    settings.sense = sense.or(settings.sense);
    settings
}

/// Whether the new reading is the one that is shown, and why.
fn stands(evening: &KeptEvening, new: &Reading) -> String {
    let best = evening.best_reading().filter(|best| best.id != new.id);
    let Some(best) = best else {
        return "It stands: no other is surer of itself".to_string();
    };
    let right = |reading: &Reading| match reading.certainty {
        Some(certainty) => format!("{:.0}", (certainty + reading.characters as f64) / 2.0),
        None => "an unknown number of".to_string(),
    };
    let number = evening.best + 1;
    if !(new.whole && new.finished) {
        return format!("Reading {number} still stands: the new one lacks sound of the evening");
    }
    match best.certainty > new.certainty {
        true => format!(
            "Reading {number} still stands: of its {} characters it expects {} to be right, the new \
             one {} of {}",
            best.characters,
            right(best),
            right(new),
            new.characters
        ),
        false => format!("Reading {number} still stands: a person chose it"),
    }
}

fn tell(shelf: &Shelf, evening: i64, reading: i64, json: bool) -> anyhow::Result<Outcome> {
    let evening = shelf.evening(evening)?;
    if json {
        super::object::line(&mut stdout().lock(), &super::object::Object::from(&evening))?;
    }
    let Some(reading) = evening.readings.iter().find(|r| r.id == reading) else {
        return Ok(Outcome::NothingFound);
    };
    say(&super::show::about_reading(&evening, reading));
    say(&stands(&evening, reading));
    Ok(match reading.characters {
        0 => Outcome::NothingFound,
        _ => Outcome::Done,
    })
}
