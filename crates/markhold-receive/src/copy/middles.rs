//! Middles: where a signal's tones lay of late, and how they moved.

use std::collections::VecDeque;

/// Stretch over which the present drift is taken, s.
const DRIFT_S: f64 = 60.0;
/// Least stretch that says anything, s.
const LEAST_S: f64 = 10.0;

/// The middle of a signal's tones over time.
#[derive(Clone, Debug, Default)]
pub struct Middles {
    first_hz: Option<f64>,
    /// Instant, s, and middle of the tones, Hz, of the last minute.
    latest: VecDeque<(f64, f64)>,
}

impl Middles {
    /// Takes in where the middle lies now, once for every instant.
    pub fn notice(&mut self, now_s: f64, middle_hz: f64) {
        if self.latest.back().is_some_and(|m| m.0 >= now_s) {
            return;
        }
        self.first_hz.get_or_insert(middle_hz);
        self.latest.push_back((now_s, middle_hz));
        while self.latest.front().is_some_and(|m| now_s - m.0 > DRIFT_S) {
            self.latest.pop_front();
        }
    }

    /// How far a middle lies from where the signal began, Hz.
    pub fn moved_hz(&self, middle_hz: f64) -> f64 {
        middle_hz - self.first_hz.unwrap_or(middle_hz)
    }

    /// Drift over the last minute, Hz per minute; zero until ten seconds were heard.
    pub fn drift_hz_per_min(&self) -> f64 {
        match (self.latest.front(), self.latest.back()) {
            (Some(a), Some(b)) if b.0 - a.0 > LEAST_S => (b.1 - a.1) / (b.0 - a.0) * 60.0,
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_steady_drift_is_measured_after_ten_seconds() {
        let mut middles = Middles::default();
        assert_eq!(middles.moved_hz(1000.0), 0.0);
        for k in 0..100 {
            let t = 1.5 * f64::from(k);
            middles.notice(t, 1000.0 - 0.25 * t);
            let drift = if t > 10.0 { -15.0 } else { 0.0 };
            assert!(
                (middles.drift_hz_per_min() - drift).abs() < 1e-9,
                "at {t} s"
            );
            assert!((middles.moved_hz(1000.0 - 0.25 * t) + 0.25 * t).abs() < 1e-9);
        }
    }

    #[test]
    fn only_the_last_minute_counts() {
        let mut middles = Middles::default();
        for k in 0..200 {
            let t = f64::from(k);
            middles.notice(t, if t < 100.0 { 900.0 + t } else { 1000.0 });
        }
        assert_eq!(middles.drift_hz_per_min(), 0.0);
        assert_eq!(middles.moved_hz(1000.0), 100.0);
        assert!(middles.latest.len() <= 61, "{}", middles.latest.len());
    }

    #[test]
    fn an_instant_counts_once() {
        let mut middles = Middles::default();
        middles.notice(5.0, 1000.0);
        middles.notice(5.0, 2000.0);
        middles.notice(25.0, 1010.0);
        assert_eq!(middles.drift_hz_per_min(), 30.0);
    }
}
