//! Hears stretches of a copy's sound once more, the signal being known.

use super::super::copies::KeptCopy;
use super::stretches::Stretch;
use crate::again::{Taker, Walk};
use crate::{Entry, Segment, Shelf, ShelfError};
use markhold_event::{Character, Event, LanguageUse};
use markhold_receive::Settings;
use std::cell::Cell;
use std::path::PathBuf;

/// Sound before a stretch that is heard along, s: a weak pair is found within half a minute.
const LEAD_S: f64 = 30.0;
/// Sound after it, s: where no more comes before it, the pair is found here, and is read from
/// before that; doubtful characters are held back for as long as eight seconds.
const TAIL_S: f64 = 40.0;

/// What was heard of one stretch.
pub struct Listened {
    /// From where to where, s from the first sample of the evening.
    pub from_s: f64,
    /// See `from_s`.
    pub until_s: f64,
    /// Characters and readings that are more likely noise, in order.
    pub entries: Vec<Entry>,
}

impl Listened {
    /// The decided characters.
    pub fn decided(&self) -> impl Iterator<Item = &Character> {
        let decided = self.entries.iter().filter(|e| e.is_decided());
        decided.map(Entry::character)
    }
}

/// Hears stretches of a copy again, as far as their sound is there.
pub fn listen(
    shelf: &Shelf,
    copy: &KeptCopy,
    stretches: &[Stretch],
    tell: &mut dyn FnMut(&KeptCopy, f64, f64),
) -> Result<Vec<Listened>, ShelfError> {
    let Some(settings) = copy.known_settings() else {
        return Ok(Vec::new());
    };
    let files = shelf.sound(copy.evening)?;
    let mut all = Vec::new();
    // What lies close together is heard in one.
    for group in stretches.chunk_by(|a, b| b.from_s - a.until_s < LEAD_S + TAIL_S) {
        let (from_s, until_s) = (group[0].from_s, group[group.len() - 1].until_s);
        let span = (from_s - LEAD_S).max(0.0)..until_s + TAIL_S;
        let there = overlapping(&files, span.start, span.end);
        let works = |(segment, _): &(Segment, PathBuf)| settings.check(f64::from(segment.rate));
        if there.is_empty() || there.iter().any(|file| works(file).is_err()) {
            continue;
        }
        tell(copy, from_s, until_s);
        let entries = hear(&there, &settings, span)?;
        let of = |s: &Stretch| Listened {
            from_s: s.from_s,
            until_s: s.until_s,
            entries: within(&entries, s),
        };
        all.extend(group.iter().map(of));
    }
    Ok(all)
}

fn within(entries: &[Entry], stretch: &Stretch) -> Vec<Entry> {
    let inside = |e: &&Entry| {
        let start_s = e.character().start_s;
        (stretch.from_s..stretch.until_s).contains(&start_s)
    };
    entries.iter().filter(inside).cloned().collect()
}

fn overlapping(files: &[(Segment, PathBuf)], from_s: f64, until_s: f64) -> Vec<(Segment, PathBuf)> {
    let overlaps = |(s, _): &&(Segment, PathBuf)| s.begin_s < until_s && s.end_s() > from_s;
    files.iter().filter(overlaps).cloned().collect()
}

fn hear(
    files: &[(Segment, PathBuf)],
    settings: &Settings,
    span: std::ops::Range<f64>,
) -> Result<Vec<Entry>, ShelfError> {
    let heard_s = Cell::new(0.0);
    let mut taken = Taken {
        heard_s: &heard_s,
        origin_s: 0.0,
        entries: Vec::new(),
    };
    let settings = Settings {
        all: false,
        early: false,
        unlikely: true,
        language: LanguageUse::Off,
        learned: None,
        ..settings.clone()
    };
    let stop = || heard_s.get() > span.end;
    Walk::new(&mut taken, &settings, span.start, &stop).hear(files)?;
    let mut entries = taken.entries;
    entries.sort_by(|a, b| a.character().start_s.total_cmp(&b.character().start_s));
    Ok(entries)
}

struct Taken<'a> {
    heard_s: &'a Cell<f64>,
    origin_s: f64,
    entries: Vec<Entry>,
}

impl Taker for Taken<'_> {
    fn restart(&mut self, origin_s: f64) {
        self.origin_s = origin_s;
    }

    fn heard(&mut self, until_s: f64) {
        self.heard_s.set(until_s);
    }

    fn event(&mut self, event: &Event) {
        match event.clone().placed(self.origin_s, 0) {
            Event::Character(character) => self.entries.push(Entry::Decided(character)),
            Event::Unlikely(character) => self.entries.push(Entry::Unlikely(character)),
            _ => {}
        }
    }
}
