//! Mixtures: what all paths that lead to one place know of the gains.
//!
//! Every path has its own component, and their number doubles with every element. Two that
//! are nearly alike become one, the likelier ones stay, the rest is let go.

use markhold_signal::Complex32;

use super::component::{Component, LEAST_SPAN, Precise, Stretch};
use super::motion::{Change, Step};
use crate::sums::log_sum::{NEVER, exp_fast, ln_fast};

/// Most components.
pub const MOST: usize = 8;
/// What two components may lose by becoming one, in weight times the logarithm of the
/// volume that they cover (A. R. Runnalls, Kullback-Leibler Approach to Gaussian Mixture
/// Reduction, IEEE Transactions on Aerospace and Electronic Systems 43, 2007, equation 21).
const ALIKE: f32 = 0.002;
/// Least weight, against the greatest, that is kept.
const LEAST_SHARE: f32 = 1e-4;
/// How far, in log weight, a mixture may lie behind one that it is added to.
const HOPELESS: f32 = 40.0;

/// Weighted components; weights are in units of `exp(ln)`.
#[derive(Clone, Copy, Debug)]
pub struct Mixture {
    list: [Component; MOST],
    count: usize,
    /// Natural logarithm of the unit.
    pub ln: f32,
}

/// A mixture by precision, for products.
#[derive(Clone, Copy, Debug)]
pub struct PreciseMixture {
    list: [Precise; MOST],
    count: usize,
    ln: f32,
}

impl Mixture {
    /// No path leads there.
    pub fn empty() -> Self {
        Self {
            list: [Component::default(); MOST],
            count: 0,
            ln: NEVER,
        }
    }

    /// A path on which nothing was heard yet, with its log weight.
    pub fn unknown(ln: f32) -> Self {
        let mut all = Self::empty();
        all.list[0] = Component::unknown();
        (all.count, all.ln) = (1, ln);
        all
    }

    /// Whether no path leads there.
    pub fn is_empty(&self) -> bool {
        self.count == 0
    }

    fn list(&self) -> &[Component] {
        &self.list[..self.count]
    }

    /// Moves the unit so that the weights add up to 1.
    pub fn normalise(&mut self) {
        let total: f32 = self.list().iter().map(|c| c.weight).sum();
        if total <= 0.0 {
            *self = Self::empty();
            return;
        }
        self.list[..self.count]
            .iter_mut()
            .for_each(|c| c.weight /= total);
        self.ln += ln_fast(total.max(f32::MIN_POSITIVE));
    }

    /// Adds another mixture times `exp(ln)`.
    pub fn add(&mut self, other: &Self, ln: f32) {
        let other_ln = other.ln + ln;
        if other.is_empty() || other_ln < self.ln - HOPELESS {
            return;
        }
        if self.is_empty() {
            *self = *other;
            self.ln = other_ln;
            return;
        }
        let highest = self.ln.max(other_ln);
        let mut all = [Component::default(); 2 * MOST];
        let mut count = 0;
        for (mixture, ln) in [(&*self, self.ln), (other, other_ln)] {
            let factor = exp_fast(ln - highest);
            for c in mixture.list() {
                all[count] = Component {
                    weight: c.weight * factor,
                    ..*c
                };
                count += 1;
            }
        }
        self.ln = highest;
        self.take(&mut all[..count]);
    }

    /// Takes the likeliest of these components, those alike as one.
    fn take(&mut self, all: &mut [Component]) {
        all.sort_unstable_by(|a, b| b.weight.total_cmp(&a.weight));
        let total: f32 = all.iter().map(|c| c.weight).sum();
        let least = all[0].weight * LEAST_SHARE;
        let mut volumes = [0.0f32; MOST];
        self.count = 0;
        for c in all.iter().take_while(|c| c.weight > least) {
            let volume = c.ln_determinant();
            match self.nearest(c, volume, &volumes) {
                Some((loss, i, merged))
                    if loss < ALIKE * total || self.count == MOST && loss < c.weight =>
                {
                    self.list[i] = merged;
                    volumes[i] = merged.ln_determinant();
                }
                _ if self.count < MOST => {
                    self.list[self.count] = *c;
                    volumes[self.count] = volume;
                    self.count += 1;
                }
                _ => {}
            }
        }
    }

    /// The component with which another one loses the least, what it loses, and both as one.
    fn nearest(
        &self,
        c: &Component,
        volume: f32,
        volumes: &[f32; MOST],
    ) -> Option<(f32, usize, Component)> {
        let with = |(i, d): (usize, &Component)| {
            let merged = d.merged(c);
            let apart = d.weight * volumes[i] + c.weight * volume;
            (merged.weight * merged.ln_determinant() - apart, i, merged)
        };
        let all = self.list().iter().enumerate().map(with);
        all.min_by(|a, b| a.0.total_cmp(&b.0))
    }

    /// Moves the gains of all paths.
    pub fn shift(&mut self, step: &Step) {
        self.list[..self.count]
            .iter_mut()
            .for_each(|c| c.shift(step));
    }

    /// The line changes to `tone` on all paths.
    pub fn change(&mut self, tone: usize, change: &Change) {
        for component in &mut self.list[..self.count] {
            component.turn(&change.turns);
            if change.sure < 1.0 {
                component.blur(tone, change.sure);
            }
        }
    }

    /// All paths hear `tone` sent: weights become those after the stretch.
    pub fn hear(&mut self, tone: usize, heard: &Stretch) {
        if heard.span < LEAST_SPAN {
            return;
        }
        let mut lns = [NEVER; MOST];
        for (c, ln) in self.list[..self.count].iter_mut().zip(&mut lns) {
            *ln = c.hear(tone, heard);
        }
        let highest = lns.iter().fold(NEVER, |a, &b| a.max(b));
        for (c, ln) in self.list[..self.count].iter_mut().zip(lns) {
            c.weight *= exp_fast(ln - highest);
        }
        self.ln += highest + heard.sum.norm_sqr() / (heard.noise * heard.span);
    }

    /// By precision, as what comes before a place.
    pub fn before(&self) -> PreciseMixture {
        self.precise(1.0)
    }

    /// By precision, as what comes after a place.
    pub fn after(&self) -> PreciseMixture {
        self.precise(-1.0)
    }

    fn precise(&self, sign: f32) -> PreciseMixture {
        let mut list = [Precise::default(); MOST];
        for (p, c) in list.iter_mut().zip(self.list()) {
            *p = c.precise(sign);
        }
        PreciseMixture {
            list,
            count: self.count,
            ln: self.ln,
        }
    }
}

impl PreciseMixture {
    fn list(&self) -> &[Precise] {
        &self.list[..self.count]
    }

    /// Log weights of all pairs, how many there are, and the highest.
    fn pairs(&self, after: &Self) -> ([f32; MOST * MOST], usize, f32) {
        let mut lns = [NEVER; MOST * MOST];
        let (mut count, mut highest) = (0, NEVER);
        for b in self.list() {
            for a in after.list() {
                lns[count] = b.agree(a);
                highest = highest.max(lns[count]);
                count += 1;
            }
        }
        (lns, count, highest)
    }

    /// Log weight of all paths that come from here and go on there.
    pub fn ln_agree(&self, after: &Self) -> f32 {
        let (lns, count, highest) = self.pairs(after);
        if count == 0 {
            return NEVER;
        }
        let sum: f32 = lns[..count].iter().map(|ln| exp_fast(ln - highest)).sum();
        highest + ln_fast(sum) + self.ln + after.ln
    }

    /// Mean of `exp(i phase)` of both tones, by all that is known before and after.
    pub fn phases(&self, after: &Self) -> [Complex32; 2] {
        let (lns, _, highest) = self.pairs(after);
        let (mut sums, mut total) = ([Complex32::default(); 2], 0.0);
        let pairs = self
            .list()
            .iter()
            .flat_map(|b| after.list().iter().map(move |a| (b, a)));
        for ((b, a), ln) in pairs.zip(lns) {
            let weight = exp_fast(ln - highest);
            total += weight;
            for (tone, sum) in sums.iter_mut().enumerate() {
                let (gain, variance) = b.gain(a, tone);
                *sum += gain * (weight / (gain.norm_sqr() + variance).sqrt());
            }
        }
        sums.map(|s| s / f32::max(total, f32::MIN_POSITIVE))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(weight: f32, re: f32) -> Component {
        Component {
            weight,
            mean: [[Complex32::new(re, 0.0), Complex32::default()]; 2],
            spread: [[0.01, 0.0, 1.0]; 2],
        }
    }

    fn mixture(list: &[Component]) -> Mixture {
        let mut all = Mixture::empty();
        all.ln = 0.0;
        all.take(&mut list.to_vec());
        all
    }

    #[test]
    fn what_is_alike_becomes_one_and_what_is_not_stays() {
        assert_eq!(mixture(&[at(0.5, 1.0), at(0.5, 1.001)]).count, 1);
        assert_eq!(mixture(&[at(0.5, 1.0), at(0.5, -1.0)]).count, 2);
        assert_eq!(
            mixture(&[at(1.0, 1.0), at(0.5e-4, -1.0)]).count,
            1,
            "hopeless"
        );
        let many: Vec<_> = (0..3 * MOST).map(|i| at(1.0, i as f32)).collect();
        assert!(mixture(&many).count <= MOST);
    }

    #[test]
    fn sums_keep_their_scales() {
        let mut sum = mixture(&[at(1.0, 1.0)]);
        sum.ln = -3.0;
        let mut other = mixture(&[at(1.0, -1.0)]);
        other.ln = -4.0;
        sum.add(&other, 0.5);
        sum.normalise();
        let expected = ((-3.0f32).exp() + (-3.5f32).exp()).ln();
        assert!((sum.ln - expected).abs() < 1e-4, "{}", sum.ln);
        let shares: f32 = sum.list().iter().map(|c| c.weight).sum();
        assert!((shares - 1.0).abs() < 1e-5);
    }

    #[test]
    fn the_path_that_foretold_the_sound_gains_weight() {
        let mut all = mixture(&[at(0.5, 1.0), at(0.5, -1.0)]);
        let heard = Stretch {
            sum: Complex32::new(0.9, 0.1),
            span: 1.0,
            noise: 0.2,
        };
        all.hear(0, &heard);
        all.normalise();
        assert!(all.list()[0].weight > 0.99 && all.list()[0].mean[0][0].re > 0.9);
    }

    /// A phase that errs by an angle of standard deviation `k` leaves `exp(-k²/2)` of a mean, and
    /// power as it was, of the tone to come alone.
    #[test]
    fn a_change_that_is_not_known_well_leaves_power_as_it_was() {
        let mut all = mixture(&[at(1.0, 0.8)]);
        let power = |all: &Mixture, tone: usize| {
            let one = &all.list()[0];
            one.mean[tone][0].norm_sqr() + one.spread[tone][0]
        };
        let before = [0, 1].map(|tone| power(&all, tone));
        let change = Change {
            turns: [Complex32::new(1.0, 0.0); 2],
            sure: (-0.5f32 * 0.6 * 0.6).exp(),
        };
        all.change(1, &change);
        for tone in [0, 1] {
            assert!((power(&all, tone) - before[tone]).abs() < 1e-6);
        }
        let means = [0, 1].map(|tone| all.list()[0].mean[tone][0].re);
        assert!((means[0] - 0.8).abs() < 1e-6, "{means:?}");
        assert!((means[1] - 0.8 * 0.835_27).abs() < 1e-5, "{means:?}");
    }

    #[test]
    fn phases_are_those_of_the_gains() {
        let turned = Complex32::from_polar(1.0, 0.7);
        let mut all = mixture(&[at(1.0, 1.0)]);
        let change = Change {
            turns: [turned, turned.conj()],
            sure: 1.0,
        };
        all.change(0, &change);
        let phases = all.before().phases(&Mixture::unknown(0.0).after());
        for (phase, angle) in phases.iter().zip([0.7, -0.7]) {
            assert!(
                (phase.arg() - angle).abs() < 1e-3 && phase.norm() > 0.95,
                "{phase}"
            );
        }
    }
}
