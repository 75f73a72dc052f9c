//! What language had to do with a character, packed.
//!
//! ```text
//! flag 5: prose
//! flag 6: prose | from signal | signal alone | both
//! prose        share in 1/255
//! from signal  odds
//! signal alone, both  head as a character's, without bit 7 | odds
//! ```
//!
//! Flag 5 stands where both read the same and language had nothing to add: what is left out
//! comes back as the character's own probability, less than [`NEGLIGIBLE`] away.

use super::bytes::{Bytes, put_odds, put_share};
use super::{NEGLIGIBLE, shift_and_row};
use markhold_code::{Code, FiguresRow, Shift, Symbol, symbol};
use markhold_event::{Alternative, Character, Witnesses};

const ASKED: u8 = 1 << 5;
const IN_FULL: u8 = 1 << 6;

/// Shifts and rows in which a code may mean something, the usual first.
const MEANINGS: [(Shift, FiguresRow); 3] = [
    (Shift::Letters, FiguresRow::Ita2),
    (Shift::Figures, FiguresRow::Ita2),
    (Shift::Figures, FiguresRow::Us),
];

/// How the character's witnesses are packed.
pub(super) fn flag(character: &Character) -> u8 {
    match &character.witnesses {
        None => 0,
        Some(witnesses) if adds_nothing(witnesses, character) => ASKED,
        Some(_) => IN_FULL,
    }
}

fn adds_nothing(witnesses: &Witnesses, character: &Character) -> bool {
    let Witnesses {
        signal,
        both,
        from_signal,
        ..
    } = witnesses;
    let sure = |p: f32| p >= 1.0 - NEGLIGIBLE;
    let same = |a: &Alternative| (a.code, a.symbol) == (character.code, character.symbol);
    let all = [
        signal.probability,
        both.probability,
        *from_signal,
        character.probability,
    ];
    same(signal) && same(both) && all.into_iter().all(sure)
}

/// Packs what there is.
pub(super) fn put(bytes: &mut Vec<u8>, character: &Character) {
    let Some(witnesses) = &character.witnesses else {
        return;
    };
    put_share(bytes, witnesses.prose);
    if !adds_nothing(witnesses, character) {
        put_odds(bytes, witnesses.from_signal);
        put_alternative(bytes, &witnesses.signal);
        put_alternative(bytes, &witnesses.both);
    }
}

fn put_alternative(bytes: &mut Vec<u8>, alternative: &Alternative) {
    let Alternative {
        code,
        symbol: meant,
        ..
    } = *alternative;
    let means = |(shift, row): &(Shift, FiguresRow)| symbol(code, *shift, *row) == meant;
    let (shift, row) = MEANINGS.into_iter().find(means).unwrap_or(MEANINGS[0]);
    let flag = |set: bool, bit: u8| u8::from(set) << bit;
    let figures = flag(shift == Shift::Figures, 5);
    bytes.push(code.value() | figures | flag(row == FiguresRow::Us, 6));
    put_odds(bytes, alternative.probability);
}

/// Unpacks what these flags say follows; `None` for damage.
pub(super) fn take(
    from: &mut Bytes,
    flags: u8,
    character: &Character,
) -> Option<Option<Witnesses>> {
    match flags {
        0 => Some(None),
        ASKED => {
            let own = Alternative {
                code: character.code,
                symbol: character.symbol,
                probability: character.probability,
            };
            Some(Some(Witnesses {
                prose: from.share()?,
                from_signal: character.probability,
                signal: own,
                both: own,
            }))
        }
        IN_FULL => Some(Some(Witnesses {
            prose: from.share()?,
            from_signal: from.odds()?,
            signal: alternative(from)?,
            both: alternative(from)?,
        })),
        _ => None,
    }
}

fn alternative(from: &mut Bytes) -> Option<Alternative> {
    let head = from.byte().filter(|head| head & 0x80 == 0)?;
    let code = Code::new(head & 0x1F)?;
    let (shift, row) = shift_and_row(head);
    let symbol: Symbol = symbol(code, shift, row);
    let probability = from.odds()?;
    Some(Alternative {
        code,
        symbol,
        probability,
    })
}
