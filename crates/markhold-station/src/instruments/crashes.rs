//! Counts static crashes: short bursts over the whole passband.

use super::Counts;
use super::floor::{Floor, db, median};
use super::spectra::{PER_SECOND, Spectrum};
use std::collections::VecDeque;

/// A crash lifts the middle bin by at least this much, dB. The middle one of a hundred bins
/// of steady noise moves by less than 1 dB.
const RISE_DB: f32 = 4.0;
/// It is over when the rise is less than this, dB.
const FALL_DB: f32 = 2.5;
/// What lasts longer is no crash but another level, spectra.
const LONGEST: u32 = PER_SECOND * 3 / 5;
/// The middle bin this far below its floor says that the receiver's gain is turned down, dB: what
/// rises within so many spectra after that is the gain that comes back, as it does in every gap of
/// a neighbour's Morse.
const TURNED_DOWN_DB: f32 = 6.0;
const COMES_BACK: u32 = PER_SECOND / 3;
/// Bins whose floor is this far below the highest are outside the passband, dB.
const OUTSIDE_DB: f32 = 25.0;
/// A crash adds at least this share to the mean power: less does no harm.
const SHARE: f32 = 0.1;
/// While it lasts it is at least this share of all power. A receiver whose AGC gives way to a
/// keyed tone clicks all over the passband as well, but nearly all of the power is the tone:
/// while the click lasts or, of a tone far stronger, right after it and not before.
const FLAT: f32 = 0.3;
/// The mean of bins of noise over the middle one of them: powers are exponentially distributed.
const MEAN_OVER_MIDDLE: f32 = 1.443;
/// Spans that the lightning caution compares, s: of late, and before that.
const LATE_S: f64 = 120.0;
const BEFORE_S: f64 = 600.0;
/// Shortest history that can be compared, s.
const HISTORY_S: f64 = 180.0;
/// The rate of late that is a reason for caution when it rises, crashes a minute.
const MANY: f64 = 6.0;
/// How many times the rate before it must be.
const RISING: f64 = 2.0;
/// The caution stays for this long, s: half an hour after the last thunder is the usual
/// advice of weather services (common practice); crashes are counted meanwhile.
const CAUTION_S: f64 = 1800.0;

/// Counts crashes.
#[derive(Clone, Debug, Default)]
pub struct CrashCounter {
    // state
    floor: Floor,
    mean: f32,
    /// For how many spectra a rise lasts.
    risen: u32,
    /// Share of all power that was broad before the rise.
    flat_before: f32,
    /// Spectra for which a gain may still come back, and whether that is what rises.
    comes_back: u32,
    is_gain: bool,
    begun_s: Option<f64>,
    times: VecDeque<f64>,
    crashes: u64,
    caution_until_s: f64,
}

impl CrashCounter {
    /// Takes a spectrum.
    pub fn process(&mut self, spectrum: &Spectrum) {
        let begun_s = *self.begun_s.get_or_insert(spectrum.at_s);
        if let Some((rise_db, flat)) = self.rise(spectrum) {
            self.follow(rise_db, flat, spectrum.at_s);
        }
        self.floor.process(spectrum);
        let power: f32 = spectrum.power.iter().sum();
        let share = if self.mean == 0.0 { 1.0 } else { 0.01 };
        self.mean += (power - self.mean) * share;
        self.look_at_the_sky(spectrum.at_s, begun_s);
    }

    /// How far the middle bin of the passband stands above its floor, dB, not above it if that
    /// is no crash, and what share of all power is as broad as that bin.
    fn rise(&self, spectrum: &Spectrum) -> Option<(f32, f32)> {
        let floor = self.floor.db()?;
        let top = floor.iter().copied().fold(f32::MIN, f32::max);
        let inside = |f: &&f32| **f > top - OUTSIDE_DB;
        let bins = spectrum.power.iter().zip(floor);
        let (mut powers, mut rises): (Vec<f32>, Vec<f32>) = bins
            .filter(|(_, f)| inside(f))
            .map(|(p, f)| (*p, db(*p) - f))
            .unzip();
        let all: f32 = spectrum.power.iter().sum();
        let broad = median(&mut powers) * MEAN_OVER_MIDDLE * powers.len() as f32;
        let flat = broad / all.max(f32::MIN_POSITIVE);
        let is_crash = all > self.mean * (1.0 + SHARE) && flat > FLAT;
        let rise = median(&mut rises);
        Some((if is_crash { rise } else { rise.min(0.0) }, flat))
    }

    fn follow(&mut self, rise_db: f32, flat: f32, at_s: f64) {
        self.comes_back = match rise_db < -TURNED_DOWN_DB {
            true => COMES_BACK,
            false => self.comes_back.saturating_sub(1),
        };
        match self.risen {
            0 if rise_db > RISE_DB => (self.risen, self.is_gain) = (1, self.comes_back > 0),
            0 => self.flat_before = flat,
            lasted if rise_db < FALL_DB => {
                let is_click = flat < FLAT && self.flat_before >= FLAT;
                if lasted <= LONGEST && !is_click && !self.is_gain {
                    self.crashes += 1;
                    self.times.push_back(at_s);
                }
                self.risen = 0;
            }
            _ => self.risen += 1,
        }
    }

    fn look_at_the_sky(&mut self, now_s: f64, begun_s: f64) {
        while self
            .times
            .front()
            .is_some_and(|t| now_s - t > BEFORE_S + LATE_S)
        {
            self.times.pop_front();
        }
        let history_s = now_s - begun_s;
        let late = self.since(now_s - LATE_S);
        let before = self.times.len() - late;
        let before_s = (history_s - LATE_S).clamp(1.0, BEFORE_S);
        let late_rate = late as f64 * 60.0 / LATE_S;
        let before_rate = before as f64 * 60.0 / before_s;
        if history_s > HISTORY_S && late_rate >= MANY && late_rate >= RISING * before_rate {
            self.caution_until_s = now_s + CAUTION_S;
        }
    }

    fn since(&self, from_s: f64) -> usize {
        self.times
            .iter()
            .rev()
            .take_while(|t| **t >= from_s)
            .count()
    }

    /// What was counted up to now.
    pub fn counts(&self, now_s: f64) -> Counts {
        Counts {
            crashes: self.crashes,
            crashes_per_minute: self.since(now_s - 60.0) as f64,
            lightning_caution: now_s < self.caution_until_s,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::spectra::Spectra;
    use super::*;
    use markhold_air::{
        Agc, Air, Carrier, CrashTiming, Crashes, Keying, Noise, Passband, Place, Scene, Sender,
    };
    use markhold_code::FiguresRow;

    fn scene(seconds: f64) -> Scene {
        let sender = Sender::of_text("RYRYRY ", FiguresRow::Ita2).expect("fits");
        Scene {
            senders: vec![Sender {
                repeat: true,
                ..sender
            }],
            noise: Noise::EsN0Db(15.0),
            passband: Some(Passband::default()),
            duration_s: Some(seconds),
            ..Scene::default()
        }
    }

    fn counted(scene: Scene) -> CrashCounter {
        let sound = Air::new(scene, 8000).expect("fine").render();
        let mut counter = CrashCounter::default();
        Spectra::new(8000, 0.0).process(&sound, &mut |s| counter.process(&s));
        counter
    }

    #[test]
    fn counts_crashes_as_they_were_made() {
        for agc in [None, Some(Agc::default())] {
            let crashes = Crashes {
                rate_per_s: 0.5,
                shortest_ms: 15.0,
                timing: CrashTiming::Regular { jitter: 0.0 },
                ..Crashes::default()
            };
            let counts = counted(Scene {
                crashes: Some(crashes),
                agc,
                ..scene(60.0)
            })
            .counts(60.0);
            assert!((28..=30).contains(&counts.crashes), "{agc:?}: {counts:?}");
        }
    }

    #[test]
    fn a_signal_that_comes_and_goes_is_no_crash_even_with_agc() {
        let mut scene = scene(40.0);
        scene.agc = Some(Agc::default());
        scene.senders[0].begin_s = 10.0;
        let counts = counted(scene).counts(40.0);
        assert_eq!(counts.crashes, 0, "{counts:?}");
    }

    /// Morse far stronger than the signal, with AGC: every dot pushes the gain down with a click.
    #[test]
    fn a_receiver_that_pumps_makes_no_crashes() {
        // Six a minute would be many.
        for (seed, level_db, most) in [
            (1, 10.0, 2),
            (2, 15.0, 2),
            (3, 20.0, 2),
            (4, 25.0, 5),
            (5, 30.0, 2),
            (6, 40.0, 2),
        ] {
            let mut pumped = scene(60.0);
            pumped.seed = seed;
            pumped.agc = Some(Agc::default());
            pumped.carriers = vec![Carrier {
                place: Place::At(900.0),
                keying: Keying::Morse { wpm: 18.0 },
                level_db,
                ..Carrier::default()
            }];
            let counts = counted(pumped).counts(60.0);
            assert!(
                counts.crashes <= most,
                "Morse {level_db} dB over: {counts:?}"
            );
        }
    }

    #[test]
    fn a_clean_signal_without_noise_is_no_crash() {
        let noise = Noise::Silent;
        let counts = counted(Scene {
            noise,
            passband: None,
            ..scene(30.0)
        })
        .counts(30.0);
        assert_eq!(counts.crashes, 0, "{counts:?}");
    }

    /// Crashes at these times, without the sound.
    fn caution(times: impl IntoIterator<Item = f64>, until_s: f64) -> bool {
        let mut counter = CrashCounter::default();
        let mut times = times.into_iter().peekable();
        let mut now_s = 0.0;
        while now_s < until_s {
            while times.next_if(|t| *t <= now_s).is_some() {
                counter.times.push_back(now_s);
            }
            counter.look_at_the_sky(now_s, 0.0);
            now_s += 1.0;
        }
        counter.counts(until_s).lightning_caution
    }

    #[test]
    fn a_rising_rate_is_a_reason_for_caution_and_a_steady_one_is_not() {
        let steady = (0..200).map(|k| f64::from(k) * 6.0);
        assert!(!caution(steady, 1200.0));
        let rising = (0..60).map(|k| 1200.0 * (f64::from(k) / 60.0).sqrt());
        assert!(!caution(rising.clone(), 600.0), "few at first");
        let storm = (0..20).map(|k| f64::from(k) * 30.0);
        let storm = storm.chain((0..100).map(|k| 600.0 + f64::from(k) * 3.0));
        assert!(caution(storm, 900.0));
    }
}
