//! Where a tone lies over time.

use std::f64::consts::TAU;

use markhold_signal::Complex64;

/// A frequency over time: straight lines between knots, constant outside of them.
#[derive(Clone, Debug, PartialEq)]
pub struct Track {
    /// Instant, s, and frequency, Hz; in order of time.
    knots: Vec<(f64, f64)>,
}

impl Track {
    /// A frequency that stays.
    pub fn constant(hz: f64) -> Self {
        Self {
            knots: vec![(0.0, hz)],
        }
    }

    /// A track through knots of (s, Hz) in order of time.
    ///
    /// # Panics
    /// Without any knot.
    pub fn through(knots: Vec<(f64, f64)>) -> Self {
        assert!(!knots.is_empty(), "a track needs at least one knot");
        Self { knots }
    }

    /// The frequency at instant `t`.
    pub fn hz(&self, t: f64) -> f64 {
        let after = self.knots.partition_point(|k| k.0 <= t);
        if after == 0 {
            return self.knots[0].1;
        }
        let Some(next) = self.knots.get(after) else {
            return self.knots[after - 1].1;
        };
        let before = self.knots[after - 1];
        before.1 + (next.1 - before.1) * (t - before.0) / (next.0 - before.0)
    }

    /// The same track moved by a frequency that depends on time.
    pub fn moved(&self, times: &[f64], by: impl Fn(usize) -> f64) -> Self {
        let knots = times
            .iter()
            .enumerate()
            .map(|(i, &t)| (t, self.hz(t) + by(i)));
        Self {
            knots: knots.collect(),
        }
    }

    /// The same track up to `end` and going on from there by `drift` Hz/s for `ahead` s.
    pub fn foretold(mut self, end: f64, ahead: f64, drift: f64) -> Self {
        let hz = self.hz(end);
        self.knots.retain(|k| k.0 < end);
        self.knots.push((end, hz));
        self.knots.push((end + ahead, hz + drift * ahead));
        self
    }

    /// Knots from `from` on, and what the track says at `from`.
    pub fn since(&self, from: f64) -> Self {
        let mut knots = vec![(from, self.hz(from))];
        knots.extend(self.knots.iter().filter(|k| k.0 > from));
        Self { knots }
    }

    /// Turns, as unit phasors, of an oscillator that follows this track less
    /// `reference_hz`, at `count` instants from `begin_s` on, `1/rate_hz` apart. The
    /// oscillator is at phase zero at instant 0 if the track never moved before `begin_s`.
    ///
    /// The frequency is taken anew every 16 instants and held between: the price of a sine
    /// is paid once for the 16, and a drift of 100 Hz/s is still followed within 1 Hz.
    pub fn turns(
        &self,
        reference_hz: f64,
        begin_s: f64,
        rate_hz: f64,
        count: usize,
    ) -> impl Iterator<Item = Complex64> {
        const HELD: usize = 16;
        let mut cycles = ((self.hz(begin_s) - reference_hz) * begin_s).fract();
        let (mut turn, mut step) = (Complex64::default(), Complex64::default());
        (0..count).map(move |k| {
            if k % HELD == 0 {
                let middle = begin_s + (k + HELD / 2) as f64 / rate_hz;
                let advance = (self.hz(middle) - reference_hz) / rate_hz;
                turn = Complex64::from_polar(1.0, TAU * cycles);
                step = Complex64::from_polar(1.0, TAU * advance);
                cycles = (cycles + advance * HELD as f64).fract();
            }
            let now = turn;
            turn *= step;
            now
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn runs_straight_between_knots_and_stays_outside() {
        let track = Track::through(vec![(1.0, 100.0), (3.0, 120.0)]);
        for (t, hz) in [
            (0.0, 100.0),
            (1.0, 100.0),
            (2.0, 110.0),
            (3.0, 120.0),
            (9.0, 120.0),
        ] {
            assert_eq!(track.hz(t), hz, "at {t} s");
        }
        let moved = track.moved(&[1.0, 2.0, 3.0], |i| i as f64);
        assert_eq!(moved.hz(3.0), 122.0);
        assert_eq!(track.since(2.0).hz(2.5), 115.0);
    }

    #[test]
    fn turns_advance_by_the_frequency() {
        let track = Track::constant(1010.0);
        for (k, turn) in track.turns(1000.0, 0.0, 100.0, 40).enumerate() {
            let expected = Complex64::from_polar(1.0, TAU * 0.1 * k as f64);
            assert!((turn - expected).norm() < 1e-9, "instant {k}: {turn}");
        }
    }

    #[test]
    fn what_is_foretold_goes_straight_on_for_a_while() {
        let track = Track::through(vec![(1.0, 100.0), (3.0, 120.0), (7.0, 500.0)]);
        let foretold = track.clone().foretold(3.0, 2.0, -4.0);
        for t in [0.0, 1.5, 3.0] {
            assert_eq!(foretold.hz(t), track.hz(t), "at {t} s");
        }
        for (t, hz) in [(4.0, 116.0), (5.0, 112.0), (50.0, 112.0)] {
            assert_eq!(foretold.hz(t), hz, "at {t} s");
        }
    }

    #[test]
    fn what_is_dropped_changes_nothing_later() {
        let track = Track::through(vec![(1.0, 100.0), (3.0, 120.0), (7.0, 80.0)]);
        for from in [0.0, 1.0, 2.2, 3.0, 5.0, 9.0] {
            let since = track.since(from);
            for k in 0..40 {
                let t = from + 0.25 * f64::from(k);
                let error = (since.hz(t) - track.hz(t)).abs();
                assert!(error < 1e-9, "since {from}, at {t} s");
            }
            assert_eq!(
                since.hz(from - 5.0),
                track.hz(from),
                "constant before {from}"
            );
        }
    }

    /// The phase of a straight drift is `f t + d t^2 / 2` cycles.
    #[test]
    fn turns_follow_a_drift() {
        let drift = Track::through(vec![(0.0, 1000.0), (2.0, 1200.0)]);
        let (begin_s, rate_hz) = (0.5, 2000.0);
        let cycles = |t: f64| 50.0 * t * t;
        let turns: Vec<_> = drift.turns(1000.0, begin_s, rate_hz, 2000).collect();
        let expected = |k: usize| {
            Complex64::cis(TAU * (cycles(begin_s + k as f64 / rate_hz) - cycles(begin_s)))
        };
        for (k, turn) in turns.iter().enumerate() {
            let got = turn / turns[0];
            assert!((got - expected(k)).norm() < 0.03, "instant {k}: {got}");
        }
    }
}
