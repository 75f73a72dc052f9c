//! Static crashes: bursts of white noise, far stronger than the signal.

use crate::error::{SceneError, within};
use crate::noise::White;
use crate::random::{Part, Random, random, uniform};
use num_complex::Complex64;

/// The band in which a crash's level is stated, Hz.
pub const CRASH_BAND_HZ: f64 = 4000.0;

/// When crashes come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum CrashTiming {
    /// At random: the pauses between them are exponential.
    Random,
    /// At even intervals, each moved at random by up to half of `jitter` intervals either
    /// way; 0 is perfectly regular, 1 is the most.
    Regular {
        /// Scatter in intervals, 0 to 1.
        jitter: f64,
    },
}

/// Static crashes over the whole scene.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crashes {
    /// Mean number in one second.
    pub rate_per_s: f64,
    /// Shortest, ms. Durations are uniform between the two.
    pub shortest_ms: f64,
    /// Longest, ms.
    pub longest_ms: f64,
    /// Power in [`CRASH_BAND_HZ`] over the reference power, dB.
    pub level_db: f64,
    /// When they come.
    pub timing: CrashTiming,
}

impl Default for Crashes {
    /// Two each second at random, 5 to 60 ms, 20 dB over the signal.
    fn default() -> Self {
        Self {
            rate_per_s: 2.0,
            shortest_ms: 5.0,
            longest_ms: 60.0,
            level_db: 20.0,
            timing: CrashTiming::Random,
        }
    }
}

impl Crashes {
    pub(crate) fn check(&self) -> Result<(), SceneError> {
        within("shortest crash", self.shortest_ms, (0.1, 1e4), "ms")?;
        within(
            "longest crash",
            self.longest_ms,
            (self.shortest_ms, 1e4),
            "ms",
        )?;
        within("level of the crashes", self.level_db, (-100.0, 100.0), "dB")?;
        // Crashes do not overlap, so the mean one must fit in the mean interval.
        let most = 0.9 / self.mean_s();
        within(
            "rate of the crashes",
            self.rate_per_s,
            (1e-4, most),
            "per second",
        )?;
        if let CrashTiming::Regular { jitter } = self.timing {
            within("scatter of the crashes", jitter, (0.0, 1.0), "intervals")?;
        }
        Ok(())
    }

    fn mean_s(&self) -> f64 {
        (self.shortest_ms + self.longest_ms) / 2e3
    }
}

/// A stretch of time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    /// Where it begins, s from the first sample.
    pub start_s: f64,
    /// Where it ends, s.
    pub end_s: f64,
}

/// The times of crashes, in order and without overlap.
#[derive(Clone, Debug)]
pub(crate) struct CrashTimes {
    // Configured.
    crashes: Crashes,
    // State.
    random: Random,
    count: f64,
    last_end_s: f64,
}

impl CrashTimes {
    pub(crate) fn new(crashes: Crashes, seed: u64) -> Self {
        Self {
            crashes,
            random: random(seed, Part::CrashTimes, 0),
            count: 0.0,
            last_end_s: 0.0,
        }
    }

    pub(crate) fn next(&mut self) -> Interval {
        let Crashes {
            rate_per_s,
            shortest_ms,
            longest_ms,
            timing,
            ..
        } = self.crashes;
        let start_s = match timing {
            CrashTiming::Random => {
                let pause = 1.0 / rate_per_s - self.crashes.mean_s();
                self.last_end_s - pause * (1.0 - uniform(&mut self.random, 0.0, 1.0)).ln()
            }
            CrashTiming::Regular { jitter } => {
                let moved = jitter * uniform(&mut self.random, -0.5, 0.5);
                ((self.count + 0.5 + moved) / rate_per_s).max(self.last_end_s)
            }
        };
        self.count += 1.0;
        self.last_end_s = start_s + uniform(&mut self.random, shortest_ms, longest_ms) / 1e3;
        Interval {
            start_s,
            end_s: self.last_end_s,
        }
    }
}

/// The sound of the crashes.
#[derive(Clone, Debug)]
pub(crate) struct CrashNoise {
    // Configured.
    sample_rate: f64,
    // State.
    times: CrashTimes,
    white: White,
    sample: u64,
    from: u64,
    until: u64,
}

impl CrashNoise {
    pub(crate) fn new(crashes: Crashes, sample_rate: f64, seed: u64) -> Self {
        let density = 10f64.powf(crashes.level_db / 10.0) / CRASH_BAND_HZ;
        let mut noise = Self {
            sample_rate,
            times: CrashTimes::new(crashes, seed),
            white: White::new(density, sample_rate, random(seed, Part::CrashNoise, 0)),
            sample: 0,
            from: 0,
            until: 0,
        };
        noise.next_crash();
        noise
    }

    /// The next sample.
    pub(crate) fn next(&mut self) -> Complex64 {
        while self.sample >= self.until {
            self.next_crash();
        }
        let on = self.sample >= self.from;
        self.sample += 1;
        if on {
            self.white.next()
        } else {
            Complex64::ZERO
        }
    }

    fn next_crash(&mut self) {
        let Interval { start_s, end_s } = self.times.next();
        self.from = (start_s * self.sample_rate).ceil() as u64;
        self.until = (end_s * self.sample_rate).ceil() as u64;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_keep_rate_and_duration_and_do_not_overlap() {
        for timing in [CrashTiming::Random, CrashTiming::Regular { jitter: 0.8 }] {
            let crashes = Crashes {
                timing,
                ..Crashes::default()
            };
            let mut times = CrashTimes::new(crashes, 1);
            let all: Vec<Interval> = (0..4000).map(|_| times.next()).collect();
            for (now, then) in all.iter().zip(&all[1..]) {
                assert!(now.end_s <= then.start_s);
                assert!((0.005..=0.0601).contains(&(now.end_s - now.start_s)));
            }
            let rate = 4000.0 / all[3999].end_s;
            // 3 sigma of 4000 exponential pauses is 5 %.
            assert!(
                (rate / 2.0 - 1.0).abs() < 0.05,
                "{timing:?}: {rate} per second"
            );
        }
    }

    #[test]
    fn power_in_4_khz_is_the_level_and_nothing_is_heard_between() {
        for rate in [8000.0, 48000.0] {
            let crashes = Crashes {
                rate_per_s: 10.0,
                ..Crashes::default()
            };
            let mut noise = CrashNoise::new(crashes, rate, 1);
            let mut times = CrashTimes::new(crashes, 1);
            let mut now = times.next();
            let (mut sum, mut count) = (0.0, 0.0);
            for n in 0..(20.0 * rate) as u64 {
                let t = n as f64 / rate;
                while t >= now.end_s {
                    now = times.next();
                }
                let x = noise.next().re;
                if t >= now.start_s {
                    (sum, count) = (sum + x * x, count + 1.0);
                } else {
                    assert_eq!(x, 0.0, "at {t} s");
                }
            }
            let in_4_khz: f64 = sum / count * CRASH_BAND_HZ / (rate / 2.0);
            // More than 40,000 samples: 3 sigma is 0.1 dB.
            assert!(
                (10.0 * in_4_khz.log10() - 20.0).abs() < 0.1,
                "{in_4_khz} at {rate} Hz"
            );
        }
    }
}
