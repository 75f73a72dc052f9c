//! The other readings of a character of which none were kept: each less likely than matters.

use super::{Entry, OTHERS};
use markhold_code::{Code, FiguresRow, symbol};
use markhold_event::{Alternative, Character};

/// Names the other readings of an entry whose flags say that none were kept.
pub(super) fn name(mut entry: Entry, flags: u8, row: FiguresRow) -> Entry {
    if flags & OTHERS == 0 {
        let (Entry::Decided(character) | Entry::Unlikely(character)) = &mut entry;
        let shift = character.shift;
        let named = |code| Alternative {
            code,
            symbol: symbol(code, shift, row),
            probability: 0.0,
        };
        character.alternatives = best(character).map(named);
    }
    entry
}

/// The best two codes other than the character's: those that the signal holds for likeliest, then
/// those of which the fewest elements differ, since each element is misread for itself.
fn best(character: &Character) -> [Code; 2] {
    let held = character.codes.map(|codes| codes.held());
    let held = held.iter().flatten().map(|(code, _)| *code);
    let mut near = Code::ALL;
    let differ = |code: &Code| (code.value() ^ character.code.value()).count_ones();
    near.sort_by_key(differ);
    let mut others = held.chain(near).filter(|code| *code != character.code);
    let first = others.next().unwrap_or(near[1]);
    let second = others.find(|code| *code != first).unwrap_or(near[2]);
    [first, second]
}
