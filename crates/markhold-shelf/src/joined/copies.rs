//! Copies as they were kept, made ready to be joined.

use super::super::{Entry, Gap, KeptEvening, Shelf, ShelfError, settings_from_json};
use jiff::ZonedDateTime;
use markhold_code::{Code, FiguresRow, Shift, symbol};
use markhold_event::{Character, Names, Signal, SignalId};
use markhold_join::{Copied, Shares, Slot};
use markhold_receive::Settings;
use std::collections::BTreeMap;
use std::ops::Range;

/// Of what was vouched for so much was sent (docs/performance.md, Probabilities).
const VOUCHED: f32 = 0.98;

/// Elements of a character, stop among them, at which its duration is no more than some tenths off.
const ELEMENTS: f64 = 7.5;

/// What is to be joined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Which {
    /// The evening.
    pub evening: i64,
    /// One of its signals; all of them if left out.
    pub signal: Option<u32>,
}

/// One signal of one evening.
#[derive(Clone, Debug)]
pub struct KeptCopy {
    /// A, B, C, ..., by which it is named here.
    pub name: String,
    /// The evening.
    pub evening: i64,
    /// Its number on the shelf whose evening it is.
    pub number: i64,
    /// Which station heard it.
    pub station: String,
    /// The signal.
    pub signal: u32,
    /// When its first character was heard.
    pub begin: ZonedDateTime,
    /// How the receiver was set, and the signal as it was measured last.
    pub(super) heard_by: (Settings, Option<Signal>),
    /// Sound that is missing in its evening.
    pub(super) gaps: Vec<Gap>,
    /// The decided characters and readings that are more likely noise, in order.
    entries: Vec<Entry>,
    /// The decided characters.
    pub characters: Vec<Character>,
    /// What it says, slot by slot.
    pub copied: Copied,
}

impl KeptCopy {
    /// The character or reading of a slot.
    ///
    /// # Panics
    ///
    /// Where the copy has no such slot.
    pub fn character(&self, slot: usize) -> &Character {
        self.entries[slot].character()
    }

    /// How many slots it has.
    pub(super) fn slots(&self) -> usize {
        self.entries.len()
    }

    /// From a character's begin to the next one's where none waits, s: the median.
    pub(super) fn step_s(&self) -> f64 {
        let starts = self.characters.windows(2);
        let mut steps: Vec<f64> = starts.map(|w| w[1].start_s - w[0].start_s).collect();
        steps.sort_by(f64::total_cmp);
        // 7.5 elements of 50 baud where nothing tells.
        steps.get(steps.len() / 2).copied().unwrap_or(0.15)
    }

    /// Settings of a receiver that knows the signal from the first sample on; `None` where it
    /// was not measured.
    pub(super) fn known_settings(&self) -> Option<Settings> {
        let (settings, signal) = &self.heard_by;
        let signal = signal.as_ref()?;
        Some(Settings {
            at_hz: Some(signal.tones().middle_hz()),
            shift_hz: Some(signal.usual_shift_hz.unwrap_or(signal.shift_hz)),
            rate_baud: Some(signal.usual_rate_baud.unwrap_or(signal.rate_baud)),
            sense: Some(signal.sense),
            ..settings.clone()
        })
    }

    /// Puts other entries, which are in order, in the place of those that begin within these
    /// times, s. Characters that were there before keep their ids.
    pub(super) fn replace(&mut self, times: Range<f64>, by: &[Entry]) {
        let element_s = self.step_s() / ELEMENTS;
        let named = self.characters.iter().map(|c| (c.start_s, c.id));
        let mut names = Names::of_reading(named);
        let start_s = |e: &Entry| e.character().start_s;
        let from = self.entries.partition_point(|e| start_s(e) < times.start);
        let until = self.entries.partition_point(|e| start_s(e) < times.end);
        let named = by.iter().cloned().map(|mut entry| {
            let (Entry::Decided(character) | Entry::Unlikely(character)) = &mut entry;
            character.signal = SignalId(self.signal);
            character.id = names.decided(character.start_s, element_s);
            entry
        });
        self.entries
            .splice(from..until.max(from), named.collect::<Vec<_>>());
        self.characters = self.entries.iter().filter_map(decided).cloned().collect();
        self.copied.slots = self.entries.iter().map(slot).collect();
    }

    /// Its name when it is to be joined.
    pub fn which(&self) -> Which {
        Which {
            evening: self.evening,
            signal: Some(self.signal),
        }
    }

    /// The decided characters with their slots.
    pub fn decided(&self) -> impl Iterator<Item = (&Character, Slot)> {
        let all = self.entries.iter().zip(&self.copied.slots);
        all.filter_map(|(entry, slot)| Some((decided(entry)?, *slot)))
    }

    /// How many of its characters are doubtful.
    pub fn doubtful(&self) -> usize {
        self.characters.iter().filter(|c| c.doubt.is_some()).count()
    }
}

/// The signals asked for, each once, in the order in which they were heard.
pub(super) fn copies(shelf: &Shelf, asked: &[Which]) -> Result<Vec<KeptCopy>, ShelfError> {
    let mut wanted: BTreeMap<(i64, u32), KeptCopy> = BTreeMap::new();
    for Which { evening, signal } in asked {
        let found = signals(shelf, &shelf.evening(*evening)?)?;
        if let Some(signal) = signal.filter(|s| !found.iter().any(|c| c.signal == *s)) {
            let evening = *evening;
            return Err(ShelfError::NoSignal { evening, signal });
        }
        for copy in found {
            if signal.is_none_or(|s| s == copy.signal) {
                wanted.insert((copy.evening, copy.signal), copy);
            }
        }
    }
    let mut copies: Vec<KeptCopy> = wanted.into_values().collect();
    copies.sort_by_key(|c| c.begin.timestamp());
    for (at, copy) in copies.iter_mut().enumerate() {
        copy.name = name(at);
    }
    Ok(copies)
}

/// A to Z, then A2 to Z2.
fn name(at: usize) -> String {
    let letter = char::from(b'A' + (at % 26) as u8);
    match at / 26 {
        0 => letter.to_string(),
        n => format!("{letter}{}", n + 1),
    }
}

fn signals(shelf: &Shelf, evening: &KeptEvening) -> Result<Vec<KeptCopy>, ShelfError> {
    let Some(reading) = evening.best_reading() else {
        return Ok(Vec::new());
    };
    let mut of_signal: BTreeMap<u32, Vec<Entry>> = BTreeMap::new();
    let mut damage = Ok(());
    shelf.lines(reading.id, &mut |line| match line.entries() {
        Ok(entries) => of_signal.entry(line.signal).or_default().extend(entries),
        Err(error) => damage = Err(error),
    })?;
    damage?;
    let measured = shelf.signals(reading.id)?;
    let latest = |signal| {
        let known = measured.iter().find(|s| s.number == signal)?;
        known.latest().cloned()
    };
    let copy = |(signal, entries): (u32, Vec<Entry>)| {
        let characters: Vec<Character> = entries.iter().filter_map(decided).cloned().collect();
        let first_s = characters.first().map_or(0.0, |c| c.start_s);
        KeptCopy {
            name: String::new(),
            evening: evening.id,
            number: evening.number,
            station: evening.station.to_string(),
            signal,
            begin: evening.time(first_s),
            heard_by: (settings_from_json(&reading.settings), latest(signal)),
            gaps: evening.gaps.clone(),
            copied: Copied {
                slots: entries.iter().map(slot).collect(),
            },
            entries,
            characters,
        }
    };
    Ok(of_signal.into_iter().map(copy).collect())
}

fn decided(entry: &Entry) -> Option<&Character> {
    match entry {
        Entry::Decided(character) => Some(character),
        Entry::Unlikely(_) => None,
    }
}

fn slot(entry: &Entry) -> Slot {
    let character = entry.character();
    let certain = match entry {
        Entry::Decided(_) => VOUCHED,
        Entry::Unlikely(_) => 0.5,
    };
    Slot {
        codes: shares(character),
        present: character.present.min(certain),
        figures: match character.shift {
            Shift::Letters => 0.0,
            Shift::Figures => 1.0,
        },
    }
}

/// Shares of all codes; where they were not kept, as far as the readings tell that were.
fn shares(character: &Character) -> Shares {
    if let Some(codes) = &character.codes {
        return codes.shares();
    }
    let by_signal = character.by_signal();
    let named = [(by_signal.code, by_signal.probability)];
    let others = by_signal.alternatives.map(|a| (a.code, a.probability));
    let known: f32 = named.iter().chain(&others).map(|n| n.1).sum();
    let mut shares = [(1.0 - known).max(0.0) / Code::COUNT as f32; Code::COUNT];
    for (code, probability) in named.into_iter().chain(others) {
        shares[usize::from(code.value())] += probability;
    }
    shares
}

/// The figures row by which most of what the copies read in figures was read.
pub(super) fn row(copies: &[KeptCopy]) -> FiguresRow {
    let figures = copies.iter().flat_map(|c| &c.characters);
    let figures: Vec<&Character> = figures.filter(|c| c.shift == Shift::Figures).collect();
    let fits = |row: FiguresRow| {
        let same = |c: &&&Character| symbol(c.code, c.shift, row) == c.symbol;
        figures.iter().filter(same).count()
    };
    match fits(FiguresRow::Us) > fits(FiguresRow::Ita2) {
        true => FiguresRow::Us,
        false => FiguresRow::Ita2,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_go_on_after_z() {
        assert_eq!([0, 25, 26, 53].map(name), ["A", "Z", "A2", "B3"]);
    }
}
