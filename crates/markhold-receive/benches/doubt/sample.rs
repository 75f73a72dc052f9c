//! Samples: characters that a receiver copied of a trouble, and what troubled them in truth.

use crate::cause::Causes;
use crate::cover::{cover, hiss};
use crate::listen::{Sent, copy, render, sent_there};
use crate::troubles::Trouble;
use markhold_code::Code;
use markhold_receive::event::{Character, Doubt};
use markhold_receive::pair::conditions::Conditions;
use markhold_receive::text::depends_on_shift;

/// A copied character.
#[derive(Clone, Debug)]
pub struct Sample {
    /// As it was copied.
    pub character: Character,
    /// Under what conditions.
    pub conditions: Conditions,
    /// What troubled it; any of these is a right answer, the first is the main one.
    pub causes: Vec<Doubt>,
    /// Whether its code means something else in the other shift.
    pub shifted: bool,
    /// Whether it was taken in another shift than it was sent in.
    pub shift_wrong: bool,
    /// Whether the shift character before it was copied otherwise than it was sent, or what
    /// was copied as one was none.
    pub shift_lost: bool,
}

/// Lets a new receiver hear a trouble; all characters that it copies.
pub fn listen(trouble: Trouble, seed: u64, characters: usize) -> Vec<Sample> {
    let scenes = trouble.scenes(seed, characters);
    let (mut sound, sent) = render(&scenes);
    let mut causes = Causes::new(&scenes);
    if trouble == Trouble::Pumping {
        hiss(&mut sound, seed);
    }
    if trouble == Trouble::ShiftCovered {
        causes.covered = cover(&mut sound, &sent, seed);
    }
    let copied = copy(&sound);
    let lost = lost(&copied, &sent);
    let sample = |(character, conditions): (Character, Conditions)| {
        let there = sent_there(&character, &sent);
        let right = there.is_some_and(|s| s.character.code == character.code);
        let shifted = right && depends_on_shift(character.code);
        Sample {
            causes: causes.of(&character, &conditions),
            shifted,
            shift_wrong: shifted && there.is_some_and(|s| s.shift != character.shift),
            shift_lost: is_after_loss(&lost, character.start_s),
            character,
            conditions,
        }
    };
    copied.into_iter().map(sample).collect()
}

/// When a shift was sent or copied, and whether it was lost there, in order of time.
fn lost(copied: &[(Character, Conditions)], sent: &[Sent]) -> Vec<(f64, bool)> {
    let is_shift = |code: Code| matches!(code, Code::LETTERS | Code::FIGURES);
    let copied = || copied.iter().map(|(character, _)| character);
    let as_sent = |s: &Sent| {
        let there = |c: &&Character| (c.start_s - s.character.start_s).abs() < 0.5 * s.element_s;
        copied()
            .find(there)
            .is_some_and(|c| c.code == s.character.code)
    };
    let mut list: Vec<(f64, bool)> = sent
        .iter()
        .filter(|s| is_shift(s.character.code))
        .map(|s| (s.character.start_s, !as_sent(s)))
        .collect();
    let invented = |c: &&Character| {
        is_shift(c.code) && sent_there(c, sent).is_none_or(|s| s.character.code != c.code)
    };
    list.extend(copied().filter(invented).map(|c| (c.start_s, true)));
    list.sort_by(|a, b| a.0.total_cmp(&b.0));
    list
}

fn is_after_loss(lost: &[(f64, bool)], at_s: f64) -> bool {
    let before = lost.partition_point(|l| l.0 < at_s - 0.01);
    before > 0 && lost[before - 1].1
}
