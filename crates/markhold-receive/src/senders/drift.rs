//! Drift: whether a frequency that moved will go on moving.

/// Instants that are looked back on: some nine seconds of windows.
const INSTANTS: usize = 6;
/// Fewest instants that make a drift.
const LEAST_INSTANTS: usize = 4;
/// A drift is believed when it moved the frequency by this many times what the instants
/// scatter about it.
const BELIEVED: f64 = 4.0;
/// Least scatter assumed, Hz: what tuning leaves.
const LEAST_SCATTER_HZ: f64 = 0.3;

/// Watches a frequency window by window. In fading the phases wander to and fro and seem to
/// drift; only what lies along a straight line for several windows is taken for drift.
#[derive(Clone, Debug, Default)]
pub struct DriftWatch {
    instants: Vec<(f64, f64)>,
}

impl DriftWatch {
    /// Takes the frequency at an instant, s and Hz; instants come in order.
    pub fn learn(&mut self, at_s: f64, hz: f64) {
        self.instants.push((at_s, hz));
        if self.instants.len() > INSTANTS {
            self.instants.remove(0);
        }
    }

    /// Drift to be expected, Hz/s.
    pub fn rate(&self) -> f64 {
        let count = self.instants.len() as f64;
        if self.instants.len() < LEAST_INSTANTS {
            return 0.0;
        }
        let mean = |of: fn(&(f64, f64)) -> f64| self.instants.iter().map(of).sum::<f64>() / count;
        let (at, hz) = (mean(|i| i.0), mean(|i| i.1));
        let spread: f64 = self.instants.iter().map(|i| (i.0 - at).powi(2)).sum();
        let slope = self
            .instants
            .iter()
            .map(|i| (i.0 - at) * (i.1 - hz))
            .sum::<f64>()
            / spread.max(1e-9);
        let off = |i: &(f64, f64)| (i.1 - hz - slope * (i.0 - at)).powi(2);
        let scatter = (self.instants.iter().map(off).sum::<f64>() / (count - 2.0)).sqrt();
        let moved = slope.abs() * (self.instants[self.instants.len() - 1].0 - self.instants[0].0);
        if moved > BELIEVED * scatter.max(LEAST_SCATTER_HZ) {
            slope
        } else {
            0.0
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rate(list: &[f64]) -> f64 {
        let mut watch = DriftWatch::default();
        for (i, hz) in list.iter().enumerate() {
            watch.learn(1.5 * i as f64, *hz);
        }
        watch.rate()
    }

    #[test]
    fn a_steady_drift_is_foretold() {
        for drift in [-3.0, 0.5, 2.0] {
            let list: Vec<f64> = (0..8).map(|i| 100.0 + 1.5 * drift * f64::from(i)).collect();
            assert!((rate(&list) - drift).abs() < 1e-9, "{drift}");
        }
    }

    #[test]
    fn wandering_to_and_fro_is_no_drift() {
        assert_eq!(rate(&[0.0, 0.8, -0.5, 0.6, 0.1, 0.9, 0.2]), 0.0);
        assert_eq!(rate(&[0.0, 3.0, 6.0]), 0.0, "too few instants");
        assert_eq!(rate(&[0.0, 0.0, 0.0, 0.0, 60.0, 60.0]), 0.0, "a jump");
    }
}
