//! `markhold shelf learn` and `markhold shelf forget`.

use super::options::{Forget, Learn};
use super::when::Zone;
use crate::outcome::{Outcome, say};
use crate::wanted::Wanted;
use markhold_event::LanguageUse;
use markhold_shelf::{Evenings, Lesson, Shelf};
use serde::Serialize;
use std::io::stdout;

/// What was learned, as an object.
#[derive(Serialize)]
#[serde(tag = "type", rename = "learned")]
struct Object {
    made: String,
    evenings: u64,
    words: u64,
    letters: u64,
    contexts: usize,
    /// Evenings on the shelf that teach nothing.
    forgotten: usize,
    /// Whether it is used without being asked for.
    used: bool,
}

/// Learns, after evenings were taught again if that was asked for.
pub fn learn(
    shelf: &mut Shelf,
    learn: &Learn,
    zone: &Zone,
    wanted: &Wanted,
) -> anyhow::Result<Outcome> {
    if let Some(asked) = &learn.evening {
        let evenings = evenings(shelf, asked, zone)?;
        shelf.teach_again(evenings)?;
    }
    let lesson = shelf.learn()?;
    tell(shelf, &lesson, wanted, learn.json)
}

/// Forgets, and learns from the others anew.
pub fn forget(
    shelf: &mut Shelf,
    forget: &Forget,
    zone: &Zone,
    wanted: &Wanted,
) -> anyhow::Result<Outcome> {
    let evenings = evenings(shelf, &forget.evening, zone)?;
    let had = shelf.lesson().ok().flatten().is_some();
    shelf.forget(evenings)?;
    if evenings == Evenings::All || !had {
        say("Forgotten. The copy stays, but nothing is learned from it.");
        return Ok(Outcome::Done);
    }
    let lesson = shelf.learn()?;
    tell(shelf, &lesson, wanted, forget.json)
}

fn evenings(shelf: &Shelf, asked: &str, zone: &Zone) -> anyhow::Result<Evenings> {
    if asked.eq_ignore_ascii_case("all") {
        return Ok(Evenings::All);
    }
    Ok(Evenings::One(super::evening(shelf, asked, zone)?.id))
}

fn tell(shelf: &Shelf, lesson: &Lesson, wanted: &Wanted, json: bool) -> anyhow::Result<Outcome> {
    let all = shelf.evenings(None, None, usize::MAX)?;
    let forgotten = all.iter().filter(|evening| !evening.teaches).count();
    if json {
        let object = Object {
            made: lesson.made.to_string(),
            evenings: lesson.evenings,
            words: lesson.words,
            letters: lesson.characters,
            contexts: lesson.learned.contexts(),
            forgotten,
            used: wanted.learns(),
        };
        super::object::line(&mut stdout().lock(), &object)?;
    }
    say(&format!(
        "Learned from {} words, {} letters of {} evenings; {forgotten} evenings teach nothing.",
        lesson.words, lesson.characters, lesson.evenings
    ));
    say(match (wanted.learns(), wanted.language) {
        (true, _) => "It is used, as the settings file says: learn = true.",
        (false, LanguageUse::Off) => "It is not used: language is off.",
        (false, _) => {
            "It is not used. With learn = true under [shelf] in the settings file it is, or with \
             --learn."
        }
    });
    Ok(match lesson.learned.is_empty() {
        true => Outcome::NothingFound,
        false => Outcome::Done,
    })
}
