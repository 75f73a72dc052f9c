//! What even all copies together do not tell.
//!
//! Two things: characters that are still doubtful, a passage of them in one; and places where
//! something may have been sent that no copy has, since none goes across them without a pause.

use super::copies::KeptCopy;
use super::lines::{JointLine, Piece};
use super::printed::{printed, shown};
use markhold_code::FiguresRow;
use markhold_join::Joint;
use std::ops::Range;

/// Sure characters between doubtful ones that still count as of one passage: fewer than make
/// a word.
const BETWEEN: usize = 2;
/// From a character's begin to the next one's, longest that is none but slow typing, s.
const PAUSE_S: f64 = 4.0;

/// Something that a joint copy does not tell.
#[derive(Clone, Debug, PartialEq)]
pub struct Missing {
    /// The characters of the joint copy that are doubtful; where anything may be missing,
    /// nothing, before the one that follows.
    pub characters: Range<usize>,
    /// What is missing.
    pub why: Why,
}

/// What is missing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Why {
    /// So many characters are doubtful.
    Doubtful(usize),
    /// Anything may be: no copy goes across, or the sound of those that do is missing there.
    Uncrossed,
    /// Nothing was read by any copy for at least so long, s: a pause, or lost in each.
    Silent(f64),
}

/// Doubtful characters that are more than a slip, and worth a look of their own.
const PASSAGE: usize = 5;

impl Missing {
    /// Whether it is a passage, not some single characters.
    pub fn is_passage(&self) -> bool {
        !matches!(self.why, Why::Doubtful(count) if count < PASSAGE)
    }

    /// How many characters are doubtful.
    pub fn doubtful(&self) -> usize {
        match self.why {
            Why::Doubtful(count) => count,
            _ => 0,
        }
    }

    /// For how long nothing was read, s, where that is it.
    pub fn silent_s(&self) -> Option<f64> {
        match self.why {
            Why::Silent(s) => Some(s),
            _ => None,
        }
    }

    /// The line in which it begins, counted from 0; `None` where nothing of it is shown.
    pub fn line(&self, lines: &[JointLine]) -> Option<usize> {
        let from = self.characters.start;
        let behind = |piece: &Piece| match piece {
            Piece::Character { place, .. } => *place >= from,
            Piece::Variant(_) => false,
        };
        lines.iter().position(|l| l.pieces.iter().any(behind))
    }
}

impl Why {
    /// As one word.
    pub fn word(self) -> &'static str {
        match self {
            Why::Doubtful(_) => "doubtful",
            Why::Uncrossed => "uncrossed",
            Why::Silent(_) => "silent",
        }
    }
}

/// All of it, in order.
pub(super) fn missing(joint: &Joint, copies: &[KeptCopy], row: FiguresRow) -> Vec<Missing> {
    let mut all = doubtful(joint, row);
    all.extend(seams(joint, copies));
    all.sort_by_key(|m| (m.characters.start, m.characters.end));
    all
}

fn doubtful(joint: &Joint, row: FiguresRow) -> Vec<Missing> {
    let mut found: Vec<(Missing, usize)> = Vec::new();
    for (at, (place, character)) in shown(joint).enumerate() {
        let doubt = character.variant.is_none() && printed(character, row).is_doubtful();
        let prints = printed(character, row).symbol.printed().is_some();
        if !(doubt && prints) {
            continue;
        }
        match found.last_mut() {
            Some((last, until)) if at <= *until + BETWEEN => {
                last.characters.end = place + 1;
                if let Why::Doubtful(count) = &mut last.why {
                    *count += 1;
                }
                *until = at + 1;
            }
            _ => {
                let why = Why::Doubtful(1);
                let characters = place..place + 1;
                found.push((Missing { characters, why }, at + 1));
            }
        }
    }
    found.into_iter().map(|(missing, _)| missing).collect()
}

/// Places between neighbours across which no copy goes without a pause.
fn seams(joint: &Joint, copies: &[KeptCopy]) -> Vec<Missing> {
    let places: Vec<usize> = shown(joint).map(|(place, _)| place).collect();
    let seam = |pair: &[usize]| {
        let crossing = joint.copies.iter().filter_map(|k| {
            let times = crossing(joint, &copies[*k], *k, (pair[0], pair[1]))?;
            (!lost(&copies[*k], &times)).then_some(times.end - times.start)
        });
        let why = match crossing.reduce(f64::min) {
            None => Why::Uncrossed,
            Some(pause) if pause > PAUSE_S => Why::Silent(pause),
            Some(_) => return None,
        };
        let characters = pair[1]..pair[1];
        Some(Missing { characters, why })
    };
    places.windows(2).filter_map(seam).collect()
}

/// Characters on either side in which a copy that has none of its own at a place has one.
const NEAR: usize = 64;

/// From when to when a copy goes from one character to the next, s, if it does.
fn crossing(
    joint: &Joint,
    copy: &KeptCopy,
    k: usize,
    (from, to): (usize, usize),
) -> Option<Range<f64>> {
    let all = &joint.characters;
    if !(all[from].passed[k] && all[to].passed[k]) {
        return None;
    }
    let time = |slot: usize| copy.character(slot).start_s;
    let before = (from.saturating_sub(NEAR)..=from).rev();
    let after = to..(to + NEAR).min(all.len());
    let begin = before.into_iter().find_map(|at| all[at].slots[k])?;
    let end = after.into_iter().find_map(|at| all[at].slots[k])?;
    // What a copy has in another order is told elsewhere.
    Some(time(begin)..time(end).max(time(begin)))
}

/// Whether sound is missing there that the receiver did not hear.
fn lost(copy: &KeptCopy, times: &Range<f64>) -> bool {
    let gaps = copy.gaps.iter().filter(|gap| !gap.cause.was_heard());
    gaps.into_iter()
        .any(|gap| (times.start..=times.end).contains(&gap.begin_s))
}
