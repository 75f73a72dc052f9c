//! `markhold skeds next`: tonight in a terminal.

use super::Receiver;
use super::options::Next;
use super::tonight::Tonight;
use crate::outcome::{Outcome, say};
use crate::shelf::line;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use markhold_shelf::Shelf;
use markhold_skeds::due;
use markhold_skeds::learned::LearnedDial;
use std::io::{Write, stdout};

pub fn run(shelf: &Shelf, next: &Next, receiver: &Receiver) -> anyhow::Result<Outcome> {
    let now = next.now.unwrap_or_else(Timestamp::now);
    let skeds = shelf.skeds()?;
    let (all, wrong) = due(&skeds, jiff::tz::db(), now, next.most);
    for (id, error) in wrong {
        say(&format!("markhold: sked {id}: {error}"));
    }
    let tonight = Tonight {
        receiver: *receiver,
        learned: LearnedDial::of(&shelf.dial_found()?),
        stands: shelf.dial_stands(now)?,
        now,
        here: TimeZone::system(),
    };
    let mut out = stdout().lock();
    for due in &all {
        let sked = &skeds[&due.sked];
        match next.json {
            true => line(&mut out, &tonight.object(due, sked))?,
            false => {
                for text in tonight.lines(due, sked, next.sums) {
                    writeln!(out, "{text}")?;
                }
            }
        }
    }
    if all.is_empty() {
        say("nothing is due; markhold skeds list shows what there is");
        return Ok(Outcome::NothingFound);
    }
    if receiver.dial.is_none() && !next.json {
        say(
            "where to set the dial is told once [receiver] stands in the settings file; see markhold skeds --help",
        );
    }
    Ok(Outcome::Done)
}
