//! What is on the air, and what follows from it before the first sample.

use crate::carrier::Carrier;
use crate::crash::Crashes;
use crate::drift::Drift;
use crate::error::{SceneError, within};
use crate::gain::Agc;
use crate::noise::Noise;
use crate::passband::Passband;
use crate::sender::Sender;
use crate::speech::Speech;
use crate::times::Times;

/// Everything on the air and the receiver that hears it. The default is a quiet band
/// without an end.
#[derive(Clone, Debug, PartialEq)]
pub struct Scene {
    /// Seed of everything random.
    pub seed: u64,
    /// How long the scene lasts, s; if not given, until the last sender that does not
    /// repeat has sent its tail, and [`Scene::silence_after_s`].
    pub duration_s: Option<f64>,
    /// How long it goes on after the last sender, s; noise and neighbours stay.
    pub silence_after_s: f64,
    /// Radioteletype stations. The first is the one that Es/N0 and the places of
    /// neighbours refer to.
    pub senders: Vec<Sender>,
    /// Steady and keyed carriers.
    pub carriers: Vec<Carrier>,
    /// Voices.
    pub voices: Vec<Speech>,
    /// Drift of the receiver's dial: moves all signals alike, and no noise.
    pub dial_drift: Drift,
    /// Steady noise.
    pub noise: Noise,
    /// Static crashes.
    pub crashes: Option<Crashes>,
    /// The receiver's audio filter.
    pub passband: Option<Passband>,
    /// The receiver's automatic gain control; without it the gain is fixed so that the mean
    /// power of everything but crashes comes out at [`Scene::level_dbfs`].
    pub agc: Option<Agc>,
    /// Output level, dB: rms over full scale (a square wave of amplitude 1). With AGC this
    /// is the level of a steady tone; noise comes out lower, because the detector follows
    /// its peaks.
    pub level_dbfs: f64,
}

impl Default for Scene {
    fn default() -> Self {
        Self {
            seed: 1,
            duration_s: None,
            silence_after_s: 0.0,
            senders: Vec::new(),
            carriers: Vec::new(),
            voices: Vec::new(),
            dial_drift: Drift::default(),
            noise: Noise::Silent,
            crashes: None,
            passband: None,
            agc: None,
            level_dbfs: -15.0,
        }
    }
}

/// Lowest audio frequency that a tone may have, Hz.
const LOWEST_HZ: f64 = 20.0;
/// Highest, as a share of the sample rate.
const HIGHEST: f64 = 0.49;

/// What follows from a scene and a sample rate.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Plan {
    pub(crate) sample_rate: f64,
    pub(crate) end_s: f64,
    pub(crate) samples: u64,
    /// When each sender's text and tail end.
    pub(crate) times: Vec<Times>,
    /// Frequency of each carrier, Hz.
    pub(crate) carriers_hz: Vec<f64>,
    /// One-sided density of the noise, reference power per Hz.
    pub(crate) density: f64,
    /// Mean power of everything but crashes, the reference being 1.
    pub(crate) power: f64,
}

impl Scene {
    /// Checks the scene and works out what follows from it.
    pub(crate) fn plan(&self, sample_rate: u32) -> Result<Plan, SceneError> {
        within("sample rate", f64::from(sample_rate), (6e3, 192e3), "Hz")?;
        self.check()?;
        let (end_s, times) = self.ends()?;
        let carriers_hz = self.carriers_hz()?;
        self.check_band(sample_rate, end_s, &carriers_hz)?;
        let element_s = self.senders.first().map(|s| s.speed.element_s());
        let density = self.noise.density(element_s)?;
        let rate = f64::from(sample_rate);
        Ok(Plan {
            sample_rate: rate,
            end_s,
            samples: (end_s * rate).round() as u64,
            times,
            carriers_hz,
            density,
            power: self.power(density, rate),
        })
    }

    fn check(&self) -> Result<(), SceneError> {
        within(
            "silence after the last sender",
            self.silence_after_s,
            (0.0, 1e6),
            "s",
        )?;
        if let Some(duration_s) = self.duration_s {
            // Ten days: longer recordings are better made in parts.
            within("duration of the scene", duration_s, (0.0, 864e3), "s")?;
        }
        within("output level", self.level_dbfs, (-100.0, 0.0), "dBFS")?;
        self.dial_drift.check("the dial")?;
        for (k, sender) in self.senders.iter().enumerate() {
            sender.check(&format!("sender {}", k + 1))?;
        }
        for (k, carrier) in self.carriers.iter().enumerate() {
            carrier.check(&format!("carrier {}", k + 1))?;
        }
        for (k, voice) in self.voices.iter().enumerate() {
            voice.check(&format!("voice {}", k + 1))?;
        }
        self.crashes.as_ref().map_or(Ok(()), Crashes::check)?;
        self.passband.map_or(Ok(()), Passband::check)?;
        self.agc.map_or(Ok(()), Agc::check)
    }

    /// The end of the scene and of each sender.
    fn ends(&self) -> Result<(f64, Vec<Times>), SceneError> {
        let times = |until_s: Option<f64>| {
            let senders = self.senders.iter().enumerate();
            senders.map(move |(k, sender)| Times::of(sender, until_s, self.seed, k))
        };
        let last_s = match self.duration_s {
            Some(duration_s) => (duration_s - self.silence_after_s).max(0.0),
            None => times(None)
                .flatten()
                .map(|t| t.end_s)
                .max_by(f64::total_cmp)
                .ok_or(SceneError::Endless)?,
        };
        let end_s = self.duration_s.unwrap_or(last_s + self.silence_after_s);
        Ok((end_s, times(Some(last_s)).flatten().collect()))
    }

    fn carriers_hz(&self) -> Result<Vec<f64>, SceneError> {
        let hz = |(k, carrier): (usize, &Carrier)| {
            let what = format!("carrier {}", k + 1);
            carrier
                .place
                .hz(self.senders.first())
                .ok_or(SceneError::NoSender { what })
        };
        self.carriers.iter().enumerate().map(hz).collect()
    }

    fn check_band(
        &self,
        sample_rate: u32,
        end_s: f64,
        carriers_hz: &[f64],
    ) -> Result<(), SceneError> {
        let (low, high) = (LOWEST_HZ, HIGHEST * f64::from(sample_rate));
        let dial = self.dial_drift.extent_hz(end_s);
        let check = |what: String, [lowest, highest]: [f64; 2], drift: &Drift| {
            let own = drift.extent_hz(end_s);
            for found in [lowest + own.0 + dial.0, highest + own.1 + dial.1] {
                if !(low..=high).contains(&found) {
                    return Err(SceneError::OutOfBand {
                        what,
                        found,
                        low,
                        high,
                        sample_rate,
                    });
                }
            }
            Ok(())
        };
        for (k, s) in self.senders.iter().enumerate() {
            let middle = s.centre_hz + s.offset_hz;
            let tones = [middle - s.shift_hz / 2.0, middle + s.shift_hz / 2.0];
            check(format!("a tone of sender {}", k + 1), tones, &s.drift)?;
        }
        for (k, (carrier, &hz)) in self.carriers.iter().zip(carriers_hz).enumerate() {
            check(format!("carrier {}", k + 1), [hz, hz], &carrier.drift)?;
        }
        Ok(())
    }

    fn power(&self, density: f64, sample_rate: f64) -> f64 {
        let band_hz = self
            .passband
            .map_or(sample_rate / 2.0, |p| p.width_hz(sample_rate));
        let senders: f64 = self.senders.iter().map(Sender::power).sum();
        let carriers: f64 = self.carriers.iter().map(Carrier::mean_power).sum();
        let voices: f64 = self.voices.iter().map(Speech::power).sum();
        let power = senders + carriers + voices + density * band_hz;
        if power > 0.0 { power } else { 1.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::carrier::Place;
    use crate::drift::Hops;

    fn of(sender: Sender) -> Scene {
        Scene {
            senders: vec![sender],
            ..Scene::default()
        }
    }

    #[test]
    fn the_scene_ends_with_its_last_sender() {
        let scene = Scene {
            silence_after_s: 3.0,
            ..of(Sender::default())
        };
        assert_eq!(scene.plan(8000).expect("fine").samples, 5 * 8000);
        let longer = Scene {
            duration_s: Some(60.0),
            ..scene
        };
        assert_eq!(longer.plan(8000).expect("fine").samples, 60 * 8000);
    }

    #[test]
    fn a_repeating_neighbour_ends_with_the_message() {
        let repeating = Sender {
            repeat: true,
            ..Sender::default()
        };
        assert_eq!(of(repeating.clone()).plan(8000), Err(SceneError::Endless));
        assert_eq!(Scene::default().plan(8000), Err(SceneError::Endless));
        let scene = Scene {
            senders: vec![Sender::default(), repeating],
            ..Scene::default()
        };
        let plan = scene.plan(8000).expect("fine");
        assert_eq!((plan.end_s, plan.times[1].end_s), (2.0, 2.0));
    }

    #[test]
    fn errors_say_what_was_found_and_what_to_do() {
        let message = |scene: Scene| scene.plan(8000).expect_err("wrong").to_string();
        assert_eq!(
            message(of(Sender {
                centre_hz: 3900.0,
                ..Sender::default()
            })),
            "a tone of sender 1 reaches 3985.0 Hz, but 8000 samples per second hold 20 to 3920 \
             Hz; move it, let it drift less, or raise the sample rate"
        );
        let hops = Some(Hops {
            period_s: 1.0,
            by_hz: -2200.0,
        });
        let drift = Drift {
            hops,
            ..Drift::default()
        };
        assert!(
            message(of(Sender {
                drift,
                ..Sender::default()
            }))
            .contains("-75.0 Hz")
        );
        let carriers = vec![Carrier {
            place: Place::Beside(10.0),
            ..Carrier::default()
        }];
        let lonely = Scene {
            carriers,
            duration_s: Some(1.0),
            ..Scene::default()
        };
        assert!(message(lonely).starts_with("carrier 1 is placed beside the first sender"));
        let low = Scene::default().plan(4000).expect_err("too low");
        assert_eq!(
            low.to_string(),
            "sample rate is 4000; give 6000 to 192000 Hz"
        );
    }
}
