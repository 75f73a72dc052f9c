//! Copies as they were kept, made ready to be joined.

use super::super::when::Zone;
use anyhow::{Context, bail};
use jiff::ZonedDateTime;
use markhold_code::{Code, FiguresRow, Shift, symbol};
use markhold_event::Character;
use markhold_join::{Copied, Shares, Slot};
use markhold_shelf::{Entry, KeptEvening, Shelf};
use std::collections::BTreeMap;

/// Of what was vouched for so much was sent (docs/performance.md, Probabilities).
const VOUCHED: f32 = 0.98;

/// One signal of one evening.
pub struct KeptCopy {
    /// A, B, C, ..., by which it is named here.
    pub name: String,
    pub evening: i64,
    /// Its number on the shelf whose evening it is.
    pub number: i64,
    pub station: String,
    pub signal: u32,
    /// When its first character was heard.
    pub begin: ZonedDateTime,
    /// The decided characters and readings that are more likely noise, in order.
    entries: Vec<Entry>,
    pub characters: Vec<Character>,
    pub copied: Copied,
}

impl KeptCopy {
    /// The character or reading of a slot.
    pub fn character(&self, slot: usize) -> &Character {
        self.entries[slot].character()
    }

    /// The decided characters with their slots.
    pub fn decided(&self) -> impl Iterator<Item = (&Character, Slot)> {
        let all = self.entries.iter().zip(&self.copied.slots);
        all.filter_map(|(entry, slot)| Some((decided(entry)?, *slot)))
    }
}

/// The signals of the evenings asked for, each once, in the order in which they were heard.
pub fn kept(shelf: &Shelf, asked: &[String], zone: &Zone) -> anyhow::Result<Vec<KeptCopy>> {
    let mut wanted: BTreeMap<(i64, u32), KeptCopy> = BTreeMap::new();
    for one in asked {
        let (evening, signal) = which(one)?;
        let evening = super::super::evening(shelf, evening, zone)?;
        let found = signals(shelf, &evening)?;
        if let Some(signal) = signal.filter(|s| !found.iter().any(|c| c.signal == *s)) {
            bail!("evening {} has no signal {signal} with copy", evening.id);
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

/// `12/2`: evening 12 and its signal 2.
fn which(asked: &str) -> anyhow::Result<(&str, Option<u32>)> {
    match asked.split_once('/') {
        None => Ok((asked, None)),
        Some((evening, signal)) => {
            let expected = || format!("\"{signal}\" is no signal: expected a number, as in 12/2");
            Ok((evening, Some(signal.parse().with_context(expected)?)))
        }
    }
}

/// A to Z, then A2 to Z2.
fn name(at: usize) -> String {
    let letter = char::from(b'A' + (at % 26) as u8);
    match at / 26 {
        0 => letter.to_string(),
        n => format!("{letter}{}", n + 1),
    }
}

fn signals(shelf: &Shelf, evening: &KeptEvening) -> anyhow::Result<Vec<KeptCopy>> {
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
pub fn row(copies: &[KeptCopy]) -> FiguresRow {
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
    fn an_evening_or_a_signal_of_it() {
        assert_eq!(which("12").unwrap(), ("12", None));
        assert_eq!(which("2026-03-21/2").unwrap(), ("2026-03-21", Some(2)));
        let error = which("12/x").unwrap_err().to_string();
        assert!(error.contains("as in 12/2"), "{error}");
    }

    #[test]
    fn names_go_on_after_z() {
        assert_eq!([0, 25, 26, 53].map(name), ["A", "Z", "A2", "B3"]);
    }
}
