//! A character's id, the likelihoods of its codes, and whether it is there at all, packed.
//!
//! ```text
//! flag 0: the id is another than expected; its difference follows, written as times are
//! flag 1: likelihoods follow, see [`Codes::put`]; without 1 and 2 only the code that the
//!         signal alone reads is possible
//! flag 2: likelihoods were not kept
//! flag 3: that there is a character is not certain; its odds follow
//! flag 4: an unlikely reading, no part of the copy
//! ```
//!
//! The id that is expected lies as many hundredths of a second after the one before as the
//! starts lie apart, the first as many after 0 as its start after the evening's begin.

use super::bytes::{Bytes, put_odds, put_time};
use super::{Entry, TICKS};
use markhold_event::{Character, CharacterId, Codes};

const ID: u8 = 1 << 0;
const CODES: u8 = 1 << 1;
/// What readings of before are: their likelihoods were not kept.
pub(super) const UNKNOWN: u8 = 1 << 2;
const PRESENT: u8 = 1 << 3;
const UNLIKELY: u8 = 1 << 4;
const ALL: u8 = ID | CODES | UNKNOWN | PRESENT | UNLIKELY;

/// The way from one id to the next.
#[derive(Default)]
pub(super) struct Ids {
    /// How far the id before lay above what its start would give.
    above: i64,
}

impl Ids {
    fn by_start(ticks: i64) -> i64 {
        i64::from(CharacterId::of_start(ticks as f64 / TICKS).0)
    }

    /// How far this character's id lies from what is expected.
    pub(super) fn step(&mut self, character: &Character, ticks: i64) -> i64 {
        let above = i64::from(character.id.0) - Self::by_start(ticks);
        above - std::mem::replace(&mut self.above, above)
    }

    /// The id that lies so far from what is expected; `None` where there is none.
    fn id(&mut self, step: i64, ticks: i64) -> Option<CharacterId> {
        self.above = self.above.checked_add(step)?;
        let id = Self::by_start(ticks).checked_add(self.above)?;
        u32::try_from(id).ok().map(CharacterId)
    }
}

/// The only code possible where no likelihoods are kept.
fn only(character: &Character) -> Codes {
    let signal = character.witnesses.map(|both| both.signal.code);
    Codes::only(signal.unwrap_or(character.code))
}

/// What follows of an entry.
pub(super) fn flags(entry: &Entry, id_step: i64) -> u8 {
    let character = entry.character();
    let codes = match character.codes {
        None => UNKNOWN,
        Some(codes) if codes == only(character) => 0,
        Some(_) => CODES,
    };
    let flag = |set: bool, flag: u8| if set { flag } else { 0 };
    codes
        | flag(id_step != 0, ID)
        | flag(character.present < 1.0, PRESENT)
        | flag(matches!(entry, Entry::Unlikely(_)), UNLIKELY)
}

/// Packs what follows.
pub(super) fn put(bytes: &mut Vec<u8>, character: &Character, flags: u8, id_step: i64) {
    if flags & ID != 0 {
        put_time(bytes, id_step);
    }
    if let Some(codes) = character.codes.filter(|_| flags & CODES != 0) {
        codes.put(bytes);
    }
    if flags & PRESENT != 0 {
        put_odds(bytes, character.present);
    }
}

/// Unpacks what these flags say follows and adds it to a character; `None` for damage.
pub(super) fn take(
    from: &mut Bytes,
    flags: u8,
    mut character: Character,
    ticks: i64,
    ids: &mut Ids,
) -> Option<Entry> {
    if flags & !ALL != 0 || flags & (CODES | UNKNOWN) == CODES | UNKNOWN {
        return None;
    }
    let step = if flags & ID != 0 { from.time()? } else { 0 };
    character.id = ids.id(step, ticks)?;
    character.codes = match flags & (CODES | UNKNOWN) {
        CODES => Some(from.codes()?),
        UNKNOWN => None,
        _ => Some(only(&character)),
    };
    if flags & PRESENT != 0 {
        character.present = from.odds()?;
    }
    Some(match flags & UNLIKELY {
        0 => Entry::Decided(character),
        _ => Entry::Unlikely(character),
    })
}
