//! In which shift each character of the joint copy was sent.
//!
//! Two witnesses: in which shift the copies read it, each by all that it heard around it, and
//! the shift characters of the joint copy, which are sure where those of one copy were lost.
//! Followed forward and back; between stretches of different copies anything may hold.

use markhold_code::Code;

use crate::character::JointCharacter;

/// Odds by which a copy that reads figures surely speaks for figures: it errs as long as a
/// shift that it lost holds.
const VOTE: f32 = 12.0;
/// Probability that the shift changes unheard from one character to the next.
const UNHEARD: f32 = 1e-3;

/// Probabilities of letters and of figures.
type Both = [f32; 2];

/// Probability that each character was sent in figures.
pub(crate) fn figures(characters: &[JointCharacter], votes: &[Vec<f32>]) -> Vec<f32> {
    let count = characters.len();
    let heard: Vec<Both> = votes.iter().map(|v| vote(v)).collect();
    let mut forward = Vec::with_capacity(count);
    let mut now: Both = [0.5; 2];
    for at in 0..count {
        let here = product(now, heard[at]);
        forward.push(here);
        now = after(here, &characters[at], characters.get(at + 1));
    }
    let mut back: Both = [0.5; 2];
    let mut figures = vec![0.0; count];
    for at in (0..count).rev() {
        if at + 1 < count {
            let next = product(back, heard[at + 1]);
            back = before(next, &characters[at], Some(&characters[at + 1]));
        }
        figures[at] = product(forward[at], back)[1];
    }
    figures
}

fn vote(figures: &[f32]) -> Both {
    let of = |f: &f32| {
        (f * (VOTE - 1.0 / VOTE) + 1.0 / VOTE) / ((1.0 - f) * (VOTE - 1.0 / VOTE) + 1.0 / VOTE)
    };
    let odds: f32 = figures.iter().map(of).map(f32::sqrt).product();
    normal([1.0, odds])
}

/// Probability of going from letters to figures and from figures to letters.
fn changes(character: &JointCharacter, next: Option<&JointCharacter>) -> Both {
    let together = next.is_none_or(|next| {
        let both = |(a, b): (&Option<usize>, &Option<usize>)| a.is_some() && b.is_some();
        character.slots.iter().zip(&next.slots).any(both)
    });
    if !together {
        return [0.5; 2];
    }
    let sent = |code: Code| character.present * character.codes[usize::from(code.value())];
    [Code::FIGURES, Code::LETTERS].map(|code| sent(code).clamp(UNHEARD, 1.0 - UNHEARD))
}

fn after(now: Both, character: &JointCharacter, next: Option<&JointCharacter>) -> Both {
    let [to_figures, to_letters] = changes(character, next);
    normal([
        now[0] * (1.0 - to_figures) + now[1] * to_letters,
        now[1] * (1.0 - to_letters) + now[0] * to_figures,
    ])
}

fn before(next: Both, character: &JointCharacter, following: Option<&JointCharacter>) -> Both {
    let [to_figures, to_letters] = changes(character, following);
    normal([
        next[0] * (1.0 - to_figures) + next[1] * to_figures,
        next[1] * (1.0 - to_letters) + next[0] * to_letters,
    ])
}

fn product(a: Both, b: Both) -> Both {
    normal([a[0] * b[0], a[1] * b[1]])
}

fn normal(both: Both) -> Both {
    let sum = (both[0] + both[1]).max(f32::MIN_POSITIVE);
    both.map(|b| b / sum)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn character(code: Code, copies: [bool; 2]) -> JointCharacter {
        let mut codes = [0.0; 32];
        codes[usize::from(code.value())] = 1.0;
        JointCharacter {
            codes,
            present: 1.0,
            agreed: 1.0,
            figures: 0.0,
            slots: copies.map(|c| c.then_some(0)).into(),
            passed: copies.into(),
            variant: None,
        }
    }

    fn shifts(all: &[(Code, [bool; 2], &[f32])]) -> String {
        let characters: Vec<JointCharacter> = all.iter().map(|a| character(a.0, a.1)).collect();
        let votes: Vec<Vec<f32>> = all.iter().map(|a| a.2.to_vec()).collect();
        let of = |f: &f32| if *f > 0.5 { 'F' } else { 'L' };
        figures(&characters, &votes).iter().map(of).collect()
    }

    const E: Code = Code::ALL[1];

    #[test]
    fn a_shift_that_one_copy_lost_is_told_by_the_other() {
        let both = [true; 2];
        let all = [
            (E, both, &[0.0, 0.0][..]),
            (Code::FIGURES, [true, false], &[0.0]),
            (E, both, &[1.0, 0.0]),
            (E, both, &[1.0, 0.0]),
            (E, both, &[1.0, 0.0]),
            (Code::LETTERS, both, &[1.0, 0.0]),
            (E, both, &[0.0, 0.0]),
        ];
        assert_eq!(shifts(&all), "LLFFFFL");
    }

    #[test]
    fn a_stretch_of_another_copy_brings_its_own_shift() {
        let [a, b] = [[true, false], [false, true]];
        let all = [
            (Code::FIGURES, a, &[0.0][..]),
            (E, a, &[1.0]),
            (E, b, &[0.0]),
            (E, b, &[0.0]),
            (E, a, &[1.0]),
        ];
        assert_eq!(shifts(&all), "LFLLF");
    }
}
