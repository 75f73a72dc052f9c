//! The walk of gains: all paths through a coarse lattice, backward and forward.
//!
//! The same sums as [`super::super::walk`] makes over tables of phases; what stands at every
//! place is a mixture of gains.

use std::f32::consts::LN_2;

use super::component::Stretch;
use super::heard::{Heard, Piece};
use super::masses::Masses;
use super::mixture::Mixture;
use super::motion::{Change, Fading, Step};
use crate::senders::lattice::Lattice;
use crate::senders::model::Tuning;
use crate::senders::sound::{MARK, SPACE};
use crate::senders::walk::{LEAST_PRESENT, LEAST_SHARE, Walked, shares, tone_before};
use crate::sums::log_sum::{NEVER, add};

/// How far before a candidate others begin that it is weighed against, elements.
const NEAR: f64 = 7.0;

/// Walks a lattice with gains that glide in one way.
pub struct Walker<'a> {
    heard: &'a Heard,
    lattice: &'a Lattice,
    fading: &'a Fading,
    tuning: &'a Tuning,
    /// Over an element of each tone.
    steps: [Step; 2],
    /// Where the line changes to each tone.
    changes: Option<[Change; 2]>,
}

/// What follows each place of a candidate, that place's element included.
struct Later {
    /// From the start element on.
    begin: Mixture,
    /// From each of the five elements on, if it is mark and if it is space.
    data: [[Mixture; 2]; 5],
}

/// All that follows each place of a lattice.
pub struct Backward {
    /// Log likelihood ratio of the window against noise alone.
    pub evidence: f32,
    /// From the end of each candidate's first stop unit on.
    ends: Vec<Mixture>,
    /// The same for those walks that go on to no other candidate.
    exits: Vec<Mixture>,
    later: Vec<Later>,
}

impl<'a> Walker<'a> {
    /// A walker through all candidates of a coarse lattice.
    pub fn new(
        heard: &'a Heard,
        lattice: &'a Lattice,
        fading: &'a Fading,
        tuning: &'a Tuning,
    ) -> Self {
        Self {
            heard,
            lattice,
            fading,
            tuning,
            steps: [MARK, SPACE].map(|tone| fading.step(tuning, tone, 1.0)),
            changes: fading.changes(tuning),
        }
    }

    /// Walks from the window's end to its begin.
    pub fn backward(&self) -> Backward {
        let count = self.lattice.starts.len();
        let exits: Vec<Mixture> = (0..count).map(|c| self.exit(c)).collect();
        let mut ends = exits.clone();
        let mut later: Vec<Option<Later>> = (0..count).map(|_| None).collect();
        let mut evidence = 0.0; // nothing but noise
        let nothing = Mixture::unknown(0.0).before();
        let mut edges = self.lattice.edges.iter().enumerate().rev().peekable();
        for c in (0..count).rev() {
            let at = self.within(c, &ends[c]);
            let entered = nothing.ln_agree(&at.begin.after());
            evidence = add(evidence, self.lattice.entry[c] + entered);
            while let Some((e, edge)) = edges.next_if(|(_, edge)| edge.to == c) {
                let mut mixture = at.begin;
                self.cross_back(&mut mixture, &self.heard.gaps[e], true);
                match edge.from {
                    Some(from) => ends[from].add(&mixture, edge.ln),
                    None => {
                        let entered = nothing.ln_agree(&mixture.after());
                        evidence = add(evidence, edge.ln + entered);
                    }
                }
            }
            later[c] = Some(at);
        }
        Backward {
            evidence,
            ends,
            exits,
            later: later.into_iter().flatten().collect(),
        }
    }

    /// Ways in which a walk can end with a candidate.
    fn exit(&self, c: usize) -> Mixture {
        let mut exit = Mixture::unknown(self.lattice.off);
        if self.lattice.exit[c] > NEVER {
            let mut stays = Mixture::unknown(self.lattice.exit[c]);
            self.cross_back(&mut stays, &self.heard.tails[c], false);
            exit.add(&stays, 0.0);
            exit.normalise();
        }
        exit
    }

    /// What follows each place of a candidate, from what follows its first stop unit.
    fn within(&self, c: usize, end: &Mixture) -> Later {
        let heard = &self.heard.elements[c];
        let mut later = Later {
            begin: Mixture::empty(),
            data: [[Mixture::empty(); 2]; 5],
        };
        let stop = self.element_back(end, MARK, &heard.stop);
        let mut next = [stop, self.changed(&stop, MARK, true)];
        for k in (0..5).rev() {
            let data = [MARK, SPACE].map(|t| self.element_back(&next[t], t, &heard.data[k][t]));
            next = self.either(&data);
            later.data[k] = data;
        }
        let start = self.element_back(&next[SPACE], SPACE, &heard.start);
        later.begin = self.changed(&start, SPACE, true);
        later.begin.normalise();
        later
    }

    /// What follows an element, by its tone, from what follows with either next one.
    fn either(&self, later: &[Mixture; 2]) -> [Mixture; 2] {
        let after = |tone: usize| {
            let mut either = later[tone];
            either.add(&self.changed(&later[1 - tone], 1 - tone, true), 0.0);
            either.ln -= LN_2;
            either.normalise();
            either
        };
        let mark = after(MARK);
        match self.changes {
            None => [mark, mark],
            Some(_) => [mark, after(SPACE)],
        }
    }

    /// Walks from the window's begin to its end.
    pub fn forward(&self, backward: &Backward) -> Walked {
        let count = self.lattice.starts.len();
        let mut walked = Walked {
            evidence: backward.evidence,
            present: Vec::new(),
            codes: vec![[1.0 / 32.0; 32]; count],
            phases: vec![Default::default(); count],
        };
        let mut masses = Masses::new(self.lattice);
        let mut after = vec![Mixture::empty(); count];
        let mut near: Vec<(f64, f32)> = Vec::new();
        let mut edge = 0;
        for (c, later) in backward.later.iter().enumerate() {
            let begin = later.begin.after();
            let mut before = Mixture::unknown(self.lattice.entry[c]);
            masses.entries[c] = before.before().ln_agree(&begin);
            while let Some(e) = self.lattice.edges.get(edge).filter(|e| e.to == c) {
                let mut arrived = e.from.map_or(Mixture::unknown(0.0), |f| after[f]);
                self.cross(&mut arrived, &self.heard.gaps[edge]);
                masses.edges[edge] = arrived.before().ln_agree(&begin) + e.ln;
                before.add(&arrived, e.ln);
                edge += 1;
            }
            before.normalise();
            let known = before.before();
            let ln = known.ln_agree(&begin);
            masses.characters[c] = ln;
            walked.phases[c] = known.phases(&begin);
            // Merging costs paths a little more here and there than they had from the other side:
            // what is hopeless shows against what passes here.
            near.retain(|(start, _)| self.lattice.starts[c] - start < NEAR * self.heard.steps);
            near.push((self.lattice.starts[c], ln));
            let passes = near.iter().fold(NEVER, |a, n| a.max(n.1));
            if ln > backward.evidence.min(passes) + LEAST_PRESENT.ln() {
                (walked.codes[c], after[c]) = self.character(c, &before, later, &backward.ends[c]);
                masses.exits[c] = after[c].before().ln_agree(&backward.exits[c].after());
            }
        }
        let (present, least) = masses.present(self.lattice, self.heard.steps);
        walked.present = present;
        walked.evidence = backward.evidence.min(least);
        walked
    }

    /// Follows the codes of a candidate element by element: the probability of each, and
    /// what is known after its first stop unit.
    fn character(
        &self,
        c: usize,
        before: &Mixture,
        later: &Later,
        end: &Mixture,
    ) -> ([f32; 32], Mixture) {
        let heard = &self.heard.elements[c];
        let start = self.element(&self.changed(before, SPACE, false), SPACE, &heard.start);
        let mut branches = vec![(0, start)];
        for (k, data) in heard.data.iter().enumerate() {
            branches = self.split(&branches, k, data, &later.data[k]);
        }
        let mut after = Mixture::empty();
        let mut codes = [NEVER; 32];
        let end = end.after();
        for (code, mixture) in &branches {
            let stop = match tone_before(*code, 5) {
                SPACE => self.changed(mixture, MARK, false),
                _ => *mixture,
            };
            let stop = self.element(&stop, MARK, &heard.stop);
            codes[*code] = stop.before().ln_agree(&end);
            after.add(&stop, 0.0);
        }
        after.normalise();
        (shares(&codes), after)
    }

    /// Splits every beginning of a code into its two continuations, without the hopeless.
    fn split(
        &self,
        branches: &[(usize, Mixture)],
        k: usize,
        heard: &[Stretch; 2],
        later: &[Mixture; 2],
    ) -> Vec<(usize, Mixture)> {
        let later = later.map(|l| l.after());
        let goes_on = |code: usize, mixture: &Mixture, tone: usize| match tone_before(code, k) {
            before if before == tone => *mixture,
            _ => self.changed(mixture, tone, false),
        };
        let mut ways = Vec::with_capacity(2 * branches.len());
        for (b, (code, mixture)) in branches.iter().enumerate() {
            let same = mixture.before();
            for tone in [MARK, SPACE] {
                let ln = match self.changes {
                    None => same.ln_agree(&later[tone]),
                    Some(_) => goes_on(*code, mixture, tone)
                        .before()
                        .ln_agree(&later[tone]),
                };
                ways.push((ln, b, tone));
            }
        }
        let highest = ways.iter().fold(NEVER, |a, w| a.max(w.0));
        let likely = |w: &&(f32, usize, usize)| w.0 > highest + LEAST_SHARE.ln();
        let go = |&(_, b, tone): &(f32, usize, usize)| {
            let (code, mixture) = &branches[b];
            let before = goes_on(*code, mixture, tone);
            let mut mixture = self.element(&before, tone, &heard[tone]);
            mixture.ln -= LN_2;
            (code | usize::from(tone == MARK) << k, mixture)
        };
        ways.iter().filter(likely).map(go).collect()
    }

    /// An element of a tone passes.
    fn element(&self, before: &Mixture, tone: usize, heard: &Stretch) -> Mixture {
        let mut mixture = *before;
        mixture.hear(tone, heard);
        mixture.shift(&self.steps[tone]);
        mixture.normalise();
        mixture
    }

    /// The same backward.
    fn element_back(&self, after: &Mixture, tone: usize, heard: &Stretch) -> Mixture {
        let mut mixture = *after;
        mixture.shift(&self.steps[tone].back());
        mixture.hear(tone, heard);
        mixture.normalise();
        mixture
    }

    /// The line changes to `tone`, or in `back`ward time did so.
    fn changed(&self, mixture: &Mixture, tone: usize, back: bool) -> Mixture {
        let mut mixture = *mixture;
        if let Some(changes) = &self.changes {
            let change = changes[tone];
            mixture.change(tone, &if back { change.back() } else { change });
        }
        mixture
    }

    /// Idle line passes, and a character begins.
    fn cross(&self, mixture: &mut Mixture, pieces: &[Piece]) {
        for (i, piece) in pieces.iter().enumerate() {
            mixture.hear(MARK, &piece.heard);
            mixture.shift(&self.idle(piece.span, i + 1 == pieces.len()));
            mixture.normalise();
        }
    }

    /// Idle line backward; with `start`, from the begin of a character.
    fn cross_back(&self, mixture: &mut Mixture, pieces: &[Piece], start: bool) {
        for (i, piece) in pieces.iter().enumerate().rev() {
            let begins = start && i + 1 == pieces.len();
            mixture.shift(&self.idle(piece.span, begins).back());
            mixture.hear(MARK, &piece.heard);
            mixture.normalise();
        }
    }

    fn idle(&self, span: f64, begins: bool) -> Step {
        let step = self.fading.step(self.tuning, MARK, span);
        if begins {
            self.fading.begin(step)
        } else {
            step
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::component::LEAST_SPAN;
    use super::*;
    use crate::senders::testing::{EXACT, TUNING, sent, with_sound};
    use markhold_signal::Complex32;
    use std::f32::consts::TAU;

    fn walked(codes: &[usize], tuning: &Tuning, energy: f32, seed: u64, rate: f32) -> Walked {
        let (tones, lattice) = sent(codes, tuning, energy, seed);
        let heard = with_sound(&tones, |sound| Heard::new(sound, &lattice));
        let fading = Fading {
            rate,
            kick: 0.0,
            start: 0.0,
        };
        let walker = Walker::new(&heard, &lattice, &fading, tuning);
        walker.forward(&walker.backward())
    }

    /// Log likelihood ratio against noise of stretches of one tone at these times, whose gain
    /// has the covariance that [`super::super::motion`] states: by the whole matrix.
    fn ln_ratio(stretches: &[(f32, Stretch)], rate: f32) -> f32 {
        let n = stretches.len();
        let Some(noise) = stretches.first().map(|s| s.1.noise) else {
            return 0.0;
        };
        let mut root = vec![vec![0.0f32; n]; n];
        let mut x: Vec<Complex32> = stretches.iter().map(|s| s.1.sum).collect();
        let mut ln = x.iter().map(|x| x.norm_sqr() / noise).sum::<f32>();
        // Cholesky's way, row by row, the right side along with it.
        for i in 0..n {
            for j in 0..=i {
                let d = rate * (stretches[i].0 - stretches[j].0).abs();
                let own = if i == j { noise } else { 0.0 };
                let known: f32 = (0..j).map(|k| root[i][k] * root[j][k]).sum();
                let rest = (1.0 + d) * (-d).exp() + own - known;
                root[i][j] = if i == j {
                    rest.sqrt()
                } else {
                    rest / root[j][j]
                };
            }
            let known: Complex32 = (0..i).map(|k| x[k] * root[i][k]).sum();
            x[i] = (x[i] - known) / root[i][i];
            ln -= x[i].norm_sqr() + (root[i][i] * root[i][i] / noise).ln();
        }
        ln
    }

    /// The slow obvious way: every code by itself, its sound turned back to one phase.
    fn obvious(code: usize, heard: &Heard, tuning: &Tuning, rate: f32) -> f32 {
        let elements = &heard.elements[0];
        let mut line = vec![(SPACE, elements.start)];
        line.extend((0..5).map(|k| {
            let tone = if code >> k & 1 == 1 { MARK } else { SPACE };
            (tone, elements.data[k][tone])
        }));
        line.push((MARK, elements.stop));
        let cycles = (tuning.distance_hz * tuning.element_s) as f32;
        let mut turned = [0.0f32; 2];
        let mut tones = [Vec::new(), Vec::new()];
        for (at, (tone, mut heard)) in line.into_iter().enumerate() {
            heard.sum *= Complex32::from_polar(1.0, -turned[tone]);
            tones[tone].push((at as f32, heard));
            let turn = if tone == MARK { cycles } else { -cycles };
            turned[1 - tone] += TAU * turn;
        }
        tones.iter().map(|t| ln_ratio(t, rate)).sum()
    }

    #[test]
    fn agrees_with_the_whole_matrix_of_every_code() {
        for (seed, rate) in [(1, 0.04), (2, 0.12), (3, 0.5)] {
            let (tones, lattice) = sent(&[7 * seed as usize], &TUNING, 2.0, seed);
            let heard = with_sound(&tones, |sound| Heard::new(sound, &lattice));
            assert!(heard.elements[0].stop.span > LEAST_SPAN);
            let lns: [f32; 32] = std::array::from_fn(|code| obvious(code, &heard, &TUNING, rate));
            let expected = shares(&lns);
            let evidence = lns.iter().fold(0.0, |a, ln| add(a, ln - 32f32.ln()));
            let got = walked(&[7 * seed as usize], &TUNING, 2.0, seed, rate);
            assert!(
                (got.evidence - evidence).abs() < 0.05,
                "{} {evidence}",
                got.evidence
            );
            for (code, (got, expected)) in got.codes[0].iter().zip(expected).enumerate() {
                assert!((got - expected).abs() < 0.02, "{code}: {got} {expected}");
            }
        }
    }

    #[test]
    fn characters_are_read_and_all_paths_pass_through_them() {
        let codes: Vec<usize> = (0..40).map(|i| i * 11 % 32).collect();
        for rate in [0.04, 0.12] {
            let mut wrong = 0;
            for seed in 1..4 {
                let walked = walked(&codes, &EXACT, 4.0, seed, rate);
                let best = |p: &[f32; 32]| (0..32).fold(0, |b, c| if p[c] > p[b] { c } else { b });
                let pairs = walked.codes.iter().zip(&codes);
                wrong += pairs.filter(|(p, c)| best(p) != **c).count();
                assert!(
                    walked.present.iter().all(|p| *p > 0.99),
                    "{:?}",
                    walked.present
                );
            }
            // 30 % without phases and 1 % with phase known, at 6 dB.
            assert!(wrong <= 8, "{wrong} of 120 at {rate}");
        }
    }

    #[test]
    fn a_bias_turns_the_tone_to_come() {
        let biased = Tuning {
            bias: 0.05,
            ..EXACT
        };
        let (right, none) = ([9, 22, 13], Tuning { bias: 0.0, ..EXACT });
        let (tones, lattice) = sent(&right, &EXACT, 20.0, 3);
        let heard = with_sound(&tones, |sound| Heard::new(sound, &lattice));
        let fading = Fading {
            rate: 0.04,
            kick: 0.0,
            start: 0.0,
        };
        let evidence = |t: &Tuning| {
            Walker::new(&heard, &lattice, &fading, t)
                .backward()
                .evidence
        };
        assert!(evidence(&none) > evidence(&biased) + 10.0);
        let walker = Walker::new(&heard, &lattice, &fading, &biased);
        let walked = walker.forward(&walker.backward());
        assert!(
            walked.present.iter().all(|p| *p > 0.9),
            "the same paths both ways"
        );
    }
    /// Tones whose every run begins at any phase, as those of a sender that jitters much.
    #[test]
    fn transitions_that_are_not_known_well_lose_less_than_phases_that_slip() {
        let (mut tones, lattice) = sent(&[9, 22, 13, 10, 21], &EXACT, 20.0, 4);
        let runs = (0..)
            .step_by(5)
            .zip([0.6, -0.5, 0.4, -0.7, 0.5, 0.3, -0.6, 0.5]);
        for (from, angle) in runs {
            for tone in &mut tones {
                let at = (from * 4).min(tone.sums.len() - 1);
                let (slip, origin) = (Complex32::from_polar(1.0, angle), tone.sums[at]);
                for sum in &mut tone.sums[at..] {
                    *sum = origin + (*sum - origin) * slip;
                }
            }
        }
        let heard = with_sound(&tones, |sound| Heard::new(sound, &lattice));
        let [steady, kicked] = [0.0, 0.5].map(|kick| {
            let fading = Fading {
                rate: 0.04,
                kick,
                start: 0.4,
            };
            let walker = Walker::new(&heard, &lattice, &fading, &EXACT);
            let back = walker.backward();
            assert!(walker.forward(&back).present.iter().all(|p| *p > 0.99));
            back.evidence
        });
        assert!(kicked > steady + 5.0, "{kicked}, {steady}");
    }
}
