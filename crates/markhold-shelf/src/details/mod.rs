//! Every character of a line, packed: some ten bytes for a sure one.
//!
//! ```text
//! 3 (layout) | character | character | ...
//! character = time | head | odds | if head says so: more
//! time  signed, 0.1 ms, from the character before (the first: from the evening's begin);
//!       7 bits a byte, lowest first, the top bit says that more follow; the sign is the
//!       lowest bit (zigzag)
//! head  bits 0-4 code, 5 figures shift, 6 row (0 ITA2, 1 US), 7 more follows
//! odds  ln(p / (1 - p)) in 1/1024, 16 bits signed, low byte first; the ends mean 0 and 1
//! more  flags | if flag 7: flags of the reading | if flag 4: 2 x (code, odds)
//!       | if flag 5 or 6: witnesses | if flags say so: id, likelihoods, presence
//! flags bits 0-3 doubt, 0 for none, 1.. in the order of [`Doubt::ALL`]; 4 other readings
//!       follow; 5 language was asked and signal alone is as sure; 6 what both say follows
//!       in full; 7 flags of the reading follow, see `reading`
//! ```
//!
//! Layout 1 knew nothing of language; its `more` was doubt | 2 x (code, odds). Layout 2 had
//! no flag 7: no ids, no likelihoods but those of three codes. Both are read as they are;
//! characters get their ids from their starts.
//!
//! Other readings of a character that are together less likely than [`NEGLIGIBLE`] are
//! left out; the best of them come back with a probability of 0, see `others`.

mod bytes;
mod others;
mod reading;
mod witness;

use super::ShelfError;
use bytes::{Bytes, put_odds, put_time};
use markhold_code::{Code, FiguresRow, Shift, symbol};
use markhold_event::{Alternative, Character, CharacterId, Doubt, SignalId};

/// The layout that is written.
const LAYOUT: u8 = 3;

/// The layout before language was kept.
const WITHOUT_LANGUAGE: u8 = 1;

/// Ticks of the time in a second.
const TICKS: f64 = 10_000.0;

/// Alternatives less likely than this are not kept.
const NEGLIGIBLE: f32 = 1e-3;

/// Flags of `more`.
const DOUBT: u8 = 0x0F;
const OTHERS: u8 = 1 << 4;
const READING: u8 = 1 << 7;

/// What a line holds: characters of its copy, and readings that are more likely noise.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// A decided character.
    Decided(Character),
    /// A reading that nothing vouched for, see [`markhold_event::Event::Unlikely`].
    Unlikely(Character),
}

impl Entry {
    /// The character, whatever it is.
    pub fn character(&self) -> &Character {
        match self {
            Entry::Decided(character) | Entry::Unlikely(character) => character,
        }
    }

    /// Whether it is a character of the copy.
    pub fn is_decided(&self) -> bool {
        matches!(self, Entry::Decided(_))
    }
}

/// Packs the entries of one line. Times are kept to 0.1 ms, probabilities to 0.1 % of
/// their odds.
pub(super) fn pack(entries: &[Entry]) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(1 + 10 * entries.len());
    bytes.push(LAYOUT);
    let mut before = 0;
    let mut ids = reading::Ids::default();
    for entry in entries {
        let now = (entry.character().start_s * TICKS).round() as i64;
        // A sound longer than the clock has bits does not happen; wrong times may.
        put_time(&mut bytes, now.wrapping_sub(before));
        before = now;
        put_entry(&mut bytes, entry, ids.step(entry.character(), now));
    }
    bytes
}

/// Unpacks what [`pack`] packed; the characters get `signal` as their name.
///
/// Any bytes whatever give entries or [`ShelfError::Details`].
pub fn unpack(bytes: &[u8], signal: SignalId) -> Result<Vec<Entry>, ShelfError> {
    let mut from = Bytes::new(bytes);
    let mut ids = reading::Ids::default();
    let mut entries = Vec::with_capacity(bytes.len() / 5);
    let damaged = |at| ShelfError::Details {
        at,
        length: bytes.len(),
    };
    let layout = from
        .byte()
        .filter(|layout| (WITHOUT_LANGUAGE..=LAYOUT).contains(layout))
        .ok_or_else(|| damaged(0))?;
    let mut before = 0i64;
    while from.at() < bytes.len() {
        let begin = from.at();
        let step = from.time().ok_or_else(|| damaged(begin))?;
        before = before.wrapping_add(step);
        let entry = entry(&mut from, layout, before, signal, &mut ids);
        entries.push(entry.ok_or_else(|| damaged(begin))?);
    }
    Ok(entries)
}

/// Whether these details would tell what language had to do with the line: not where a
/// version wrote them that dropped it.
pub(super) fn know_language(bytes: &[u8]) -> bool {
    bytes
        .first()
        .is_some_and(|layout| *layout > WITHOUT_LANGUAGE)
}

fn put_entry(bytes: &mut Vec<u8>, entry: &Entry, id_step: i64) {
    let character = entry.character();
    let reading = reading::flags(entry, id_step);
    let Character { code, shift, .. } = *character;
    let others: f32 = character.alternatives.iter().map(|a| a.probability).sum();
    let others = character.doubt.is_some() || others >= NEGLIGIBLE;
    let more = others || character.witnesses.is_some() || reading != 0;
    let others_too = character.alternatives.iter().map(|a| (a.code, a.symbol));
    let mut meanings = others_too.chain([(code, character.symbol)]);
    let us = meanings.any(|(code, meant)| symbol(code, shift, FiguresRow::Ita2) != meant);
    let flag = |set: bool, bit: u8| u8::from(set) << bit;
    bytes.push(code.value() | flag(shift == Shift::Figures, 5) | flag(us, 6) | flag(more, 7));
    put_odds(bytes, character.probability);
    if !more {
        return;
    }
    let doubt = character.doubt.map_or(0, number);
    let others_flag = if others { OTHERS } else { 0 };
    let reading_flag = if reading != 0 { READING } else { 0 };
    bytes.push(doubt | others_flag | reading_flag | witness::flag(character));
    if reading != 0 {
        bytes.push(reading);
    }
    if others {
        for other in &character.alternatives {
            bytes.push(other.code.value());
            put_odds(bytes, other.probability);
        }
    }
    witness::put(bytes, character);
    reading::put(bytes, character, reading, id_step);
}

/// The number of a cause of doubt.
fn number(doubt: Doubt) -> u8 {
    let place = Doubt::ALL.iter().position(|(known, _)| *known == doubt);
    place.map_or(0, |at| at as u8 + 1)
}

fn entry(
    from: &mut Bytes,
    layout: u8,
    ticks: i64,
    signal: SignalId,
    ids: &mut reading::Ids,
) -> Option<Entry> {
    let head = from.byte()?;
    let code = Code::new(head & 0x1F)?;
    let (shift, row) = shift_and_row(head);
    let none = Alternative {
        code,
        symbol: symbol(code, shift, row),
        probability: 0.0,
    };
    let mut character = Character {
        signal,
        id: CharacterId::default(),
        start_s: ticks as f64 / TICKS,
        code,
        shift,
        symbol: none.symbol,
        probability: from.odds()?,
        present: 1.0,
        codes: None,
        alternatives: [none; 2],
        doubt: None,
        witnesses: None,
    };
    let mut reading = if layout < LAYOUT { reading::UNKNOWN } else { 0 };
    let mut flags = 0;
    if head & 0x80 != 0 {
        flags = match layout {
            WITHOUT_LANGUAGE => from.byte().filter(|doubt| doubt & !DOUBT == 0)? | OTHERS,
            _ => from.byte()?,
        };
        if flags & READING != 0 {
            reading = from.byte().filter(|_| layout == LAYOUT)?;
        }
        character.doubt = match usize::from(flags & DOUBT) {
            0 => None,
            number => Some(Doubt::ALL.get(number - 1)?.0),
        };
        if flags & OTHERS != 0 {
            for other in &mut character.alternatives {
                other.code = Code::new(from.byte()?)?;
                other.symbol = symbol(other.code, shift, row);
                other.probability = from.odds()?;
            }
        }
        let asked = flags & !(DOUBT | OTHERS | READING);
        character.witnesses = witness::take(from, asked, &character)?;
    }
    let entry = reading::take(from, reading, character, ticks, ids)?;
    Some(others::name(entry, flags, row))
}

/// What bits 5 and 6 of a head mean.
fn shift_and_row(head: u8) -> (Shift, FiguresRow) {
    (
        [Shift::Letters, Shift::Figures][usize::from(head >> 5 & 1)],
        [FiguresRow::Ita2, FiguresRow::Us][usize::from(head >> 6 & 1)],
    )
}

#[cfg(test)]
mod tests;
