//! Counts static crashes: short bursts over the whole passband.

use super::Counts;
use super::floor::{Floor, db, median, plateau_db};
use super::spectra::{PER_SECOND, Spectrum};
use std::collections::VecDeque;

/// A crash lifts the middle bin by at least this much over what it was just before, dB, from one
/// spectrum to the next or the one after it. The middle one of a hundred bins of steady noise moves by less than 1 dB, and a
/// receiver's gain that comes back after a crash, a strong tone or in a fade takes longer.
const RISE_DB: f32 = 5.0;
/// Where what is narrow is a good part of the power, it lifts more than that: the formants of a voice lift the middle
/// bins of both halves by 5 to 7.5 dB, crashes beside a signal by 10 and more; where the share that is broad is more
/// than this, no voice was found.
const RISE_BESIDE_DB: f32 = 8.0;
const BROAD: f32 = 0.5;
/// Where noise is most of what is heard the receiver's gain may give way before the level has risen; it shows
/// right after, when everything has fallen at once by so much, dB, and no tone has come that the gain gave way to.
/// After a syllable it has given way by 6 to 8 dB: where the level was not seen to rise it must be this much, and the
/// first where all of it rose so much, dB, within the spectra right before.
const TURNED_DOWN_DB: f32 = 6.0;
const TURNED_DOWN_UNSEEN_DB: f32 = 10.0;
const SWOLLEN_DB: f32 = 2.5;
const RIGHT_BEFORE: usize = 3;
/// Until then everything was at its usual level, dB: what has swollen before, as a voice does, falls back.
const USUAL_DB: f32 = 4.0;
/// It is over when the rise is less than this, dB.
const FALL_DB: f32 = 2.5;
/// What lasts longer is no crash but another level, spectra.
const LONGEST: u32 = PER_SECOND * 3 / 5;
/// Just before: the middle one of so many spectra, of which the latest is left out since a crash may begin in it.
const BEFORE: usize = 6;
/// Bins whose floor is this far below the noise that is let through are outside the passband, and this far
/// above it a signal's, dB.
const OUTSIDE_DB: f32 = 12.0;
const SIGNAL_DB: f32 = 6.0;
/// While it lasts it is at least this share of all power: less does no harm. A receiver whose AGC gives way to a
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
/// How many times the rate before it must be, and by how many standard deviations of what chance makes of
/// as many crashes more: four come once in 30 000.
const RISING: f64 = 2.0;
const SURELY: f64 = 4.0;
/// The caution stays for this long, s: half an hour after the last thunder is the usual
/// advice of weather services (common practice); crashes are counted meanwhile.
const CAUTION_S: f64 = 1800.0;

/// Level of the middle bin of the lower half of the passband, and of the upper one, dB: a crash lifts
/// both, what is voiced or hissed of a voice one of them.
type Halves = [f32; 2];

/// How far the half that rose less did, dB.
fn rise_db(now: Halves, before: Halves) -> f32 {
    (now[0] - before[0]).min(now[1] - before[1])
}

/// Whether a rise, dB, is a crash's where this share of all power is broad.
fn is_crash(rise_db: f32, flat: f32) -> bool {
    let least_db = match flat > BROAD {
        true => RISE_DB,
        false => RISE_BESIDE_DB,
    };
    flat > FLAT && rise_db > least_db
}

/// What a spectrum has of noise.
struct Heard {
    levels: Halves,
    /// The usual levels, of some seconds.
    usual: Halves,
    /// What share of all power is as broad as its noise.
    flat: f32,
}

/// Counts crashes.
#[derive(Clone, Debug, Default)]
pub struct CrashCounter {
    // state
    floor: Floor,
    /// Levels in the latest spectra.
    latest: VecDeque<Halves>,
    /// How much all of it rose in the spectra right before, dB; 0 where most of it was narrow.
    swollen: VecDeque<f32>,
    /// For how many spectra a rise lasts, and from which levels it rose.
    risen: u32,
    base: Halves,
    /// Share of all power that was broad before the rise.
    flat_before: f32,
    begun_s: Option<f64>,
    times: VecDeque<f64>,
    crashes: u64,
    caution_until_s: f64,
}

impl CrashCounter {
    /// Takes a spectrum.
    pub fn process(&mut self, spectrum: &Spectrum) {
        let begun_s = *self.begun_s.get_or_insert(spectrum.at_s);
        if let Some(heard) = self.levels(spectrum) {
            self.follow(&heard, spectrum.at_s);
        }
        self.floor.process(spectrum);
        self.look_at_the_sky(spectrum.at_s, begun_s);
    }

    /// Levels in the passband.
    fn levels(&self, spectrum: &Spectrum) -> Option<Heard> {
        let floor = self.floor.db()?;
        let noise_db = plateau_db(floor)?;
        let mut inside = 0;
        let (mut powers, mut floors) = (Vec::new(), Vec::new());
        for (power, floor_db) in spectrum.power.iter().zip(floor) {
            if *floor_db > noise_db - OUTSIDE_DB {
                inside += 1;
                if *floor_db < noise_db + SIGNAL_DB {
                    powers.push(*power);
                    floors.push(*floor_db);
                }
            }
        }
        let all: f32 = spectrum.power.iter().sum();
        let broad = median(&mut powers.clone()) * MEAN_OVER_MIDDLE * inside as f32;
        let half = powers.len() / 2;
        let (low, high) = powers.split_at_mut(half);
        let levels = [db(median(low)), db(median(high))];
        let (low, high) = floors.split_at_mut(half);
        Some(Heard {
            levels,
            usual: [median(low), median(high)],
            flat: broad / all.max(f32::MIN_POSITIVE),
        })
    }

    fn follow(&mut self, heard: &Heard, at_s: f64) {
        let Heard { levels, flat, .. } = *heard;
        let before = self.before();
        self.latest.push_back(levels);
        let over = self.latest.len().saturating_sub(BEFORE);
        self.latest.drain(..over);
        let turned_down = before.is_some_and(|before| self.is_turned_down(heard, before));
        let broad = before.filter(|_| flat > BROAD);
        let swells = broad.map_or(0.0, |before| rise_db(levels, before));
        self.swollen.push_back(swells);
        let over = self.swollen.len().saturating_sub(RIGHT_BEFORE);
        self.swollen.drain(..over);
        match (self.risen, before) {
            (0, Some(before)) if is_crash(rise_db(levels, before), flat) => {
                (self.risen, self.base) = (1, before);
            }
            (0, Some(_)) if turned_down => {
                self.crashes += 1;
                self.times.push_back(at_s);
                self.settle();
            }
            (0, _) => self.flat_before = flat,
            (lasted, _) if rise_db(levels, self.base) < FALL_DB => {
                let is_click = flat < FLAT && self.flat_before >= FLAT;
                if lasted <= LONGEST && !is_click {
                    self.crashes += 1;
                    self.times.push_back(at_s);
                }
                self.settle();
            }
            (lasted, _) if lasted > LONGEST => self.settle(),
            _ => self.risen += 1,
        }
    }

    fn is_turned_down(&self, heard: &Heard, before: Halves) -> bool {
        let is_usual = (0..2).all(|k| before[k] - heard.usual[k] < USUAL_DB);
        let least_db = match self.swollen.iter().any(|db| *db > SWOLLEN_DB) {
            true => TURNED_DOWN_DB,
            false => TURNED_DOWN_UNSEEN_DB,
        };
        is_usual
            && rise_db(before, heard.levels) > least_db
            && heard.flat > FLAT
            && self.flat_before > FLAT
    }

    /// Levels just before, once there was enough of it.
    fn before(&self) -> Option<Halves> {
        if self.latest.len() < BEFORE {
            return None;
        }
        let of = |half: usize| {
            let all = self.latest.iter().take(BEFORE - 1);
            median(&mut all.map(|levels| levels[half]).collect::<Vec<f32>>())
        };
        Some([of(0), of(1)])
    }

    /// A rise is over: what comes is compared with what comes right after it.
    fn settle(&mut self) {
        self.risen = 0;
        self.latest.clear();
        self.swollen.clear();
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
        // Crashes that have nothing to do with each other: counts vary by their square root.
        let share = LATE_S / before_s;
        let expected = before as f64 * share;
        let chance = (1.0 + expected + expected * share).sqrt();
        let is_rising =
            late_rate >= RISING * before_rate && late as f64 - expected >= SURELY * chance;
        if history_s > HISTORY_S && late_rate >= MANY && is_rising {
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
        Speech,
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

    /// The gain comes up in a fade, and noise with it.
    #[test]
    fn a_fade_is_no_crash_and_static_beside_a_signal_is_not_missed() {
        let mut faded = scene(90.0);
        faded.agc = Some(Agc::default());
        faded.senders[0].channel = markhold_air::Channel::MID_LATITUDE_DISTURBED;
        let counts = counted(faded.clone()).counts(90.0);
        assert_eq!(counts.crashes, 0, "{counts:?}");
        faded.noise = Noise::SnrDb {
            snr_db: 15.0,
            bandwidth_hz: 3000.0,
        };
        faded.crashes = Some(Crashes {
            rate_per_s: 0.25,
            shortest_ms: 15.0,
            longest_ms: 60.0,
            timing: CrashTiming::Regular { jitter: 0.0 },
            ..Crashes::default()
        });
        let counts = counted(faded).counts(90.0);
        assert!((20..=22).contains(&counts.crashes), "{counts:?}");
    }

    /// Low and high voices, weaker than noise and far stronger. Four were counted in these sixteen minutes; a caution
    /// takes six a minute.
    #[test]
    fn a_voice_is_no_crash_and_static_beside_it_is_counted() {
        let voice = |level_db, pitch_hz, seed| Scene {
            seed,
            senders: Vec::new(),
            voices: vec![Speech {
                level_db,
                pitch_hz,
                ..Speech::default()
            }],
            noise: Noise::SnrDb {
                snr_db: 15.0,
                bandwidth_hz: 3000.0,
            },
            agc: Some(Agc::default()),
            ..scene(120.0)
        };
        let mut sum = 0;
        for (seed, level_db) in (1..).zip([-10.0, 0.0, 10.0, 20.0]) {
            for pitch_hz in [120.0, 210.0] {
                sum += counted(voice(level_db, pitch_hz, seed))
                    .counts(120.0)
                    .crashes;
            }
        }
        assert!(sum <= 5, "{sum} in 16 minutes");
        let beside = Scene {
            crashes: Some(Crashes {
                rate_per_s: 0.25,
                shortest_ms: 15.0,
                longest_ms: 60.0,
                timing: CrashTiming::Regular { jitter: 0.0 },
                ..Crashes::default()
            }),
            ..voice(0.0, 120.0, 9)
        };
        let counts = counted(beside).counts(120.0);
        assert!((20..=30).contains(&counts.crashes), "{counts:?}");
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
