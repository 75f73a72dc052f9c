//! Drift: whether a frequency that moved will go on moving.

/// Steps that must agree.
const STEPS: usize = 3;

/// Watches a frequency window by window. In fading the phases wander to and fro and seem to
/// drift; only what moved the same way in every one of the last windows is taken for
/// drift, and only as much of it as moved in all.
#[derive(Clone, Debug, Default)]
pub struct DriftWatch {
    last: Option<(f64, f64)>,
    rates: Vec<f64>,
}

impl DriftWatch {
    /// Takes the frequency at an instant, Hz and s; instants come in order.
    pub fn learn(&mut self, at_s: f64, hz: f64) {
        if let Some((before_s, before_hz)) = self.last
            && at_s > before_s
        {
            self.rates.push((hz - before_hz) / (at_s - before_s));
            if self.rates.len() > STEPS {
                self.rates.remove(0);
            }
        }
        self.last = Some((at_s, hz));
    }

    /// Drift to be expected, Hz/s.
    pub fn rate(&self) -> f64 {
        let least = self.rates.iter().fold(f64::MAX, |a, r| a.min(r.abs()));
        let agree = |sign: f64| self.rates.iter().all(|r| r * sign > 0.0);
        match self.rates.len() {
            STEPS if agree(1.0) => least,
            STEPS if agree(-1.0) => -least,
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn believes_only_what_moved_every_time() {
        for (list, expected) in [
            (vec![0.0, 3.0, 6.0, 9.0], 2.0),
            (vec![0.0, 3.0, 6.0], 0.0),
            (vec![0.0, -3.0, -4.5, -9.0], -1.0),
            (vec![0.0, 3.0, 2.0, 9.0], 0.0),
            (vec![5.0, 0.0, 3.0, 6.0, 9.0], 2.0),
        ] {
            let mut watch = DriftWatch::default();
            for (i, hz) in list.iter().enumerate() {
                watch.learn(1.5 * i as f64, *hz);
            }
            assert_eq!(watch.rate(), expected, "{list:?}");
        }
    }
}
