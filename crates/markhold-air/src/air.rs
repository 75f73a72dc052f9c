//! Renders a scene, sample by sample.

use crate::arriving::Heard;
use crate::carrier::CarrierSound;
use crate::crash::CrashNoise;
use crate::drift::Drift;
use crate::error::SceneError;
use crate::gain::Gain;
use crate::noise::White;
use crate::oscillator::Oscillator;
use crate::passband::PassbandFilter;
use crate::random::{Part, random};
use crate::scene::{Plan, Scene};
use crate::speech::Voice;
use crate::truth::Truth;
use num_complex::Complex64;

/// A scene being rendered: one channel of samples between -1 and 1.
#[derive(Clone, Debug)]
pub struct Air {
    // Configured.
    scene: Scene,
    sample_rate: u32,
    // Derived.
    plan: Plan,
    // State.
    senders: Vec<Heard>,
    carriers: Vec<CarrierSound>,
    voices: Vec<Voice>,
    dial: Option<Oscillator>,
    noise: Option<White>,
    crashes: Option<CrashNoise>,
    passband: Option<PassbandFilter>,
    gain: Gain,
    position: u64,
}

impl Air {
    /// Prepares a scene at a sample rate of 6000 to 192000 Hz.
    ///
    /// # Errors
    ///
    /// A setting that makes no sense or does not fit the sample rate, with what was found
    /// and what to give.
    pub fn new(scene: Scene, sample_rate: u32) -> Result<Self, SceneError> {
        let plan = scene.plan(sample_rate)?;
        let (rate, seed) = (plan.sample_rate, scene.seed);
        let senders = scene.senders.iter().zip(&plan.times).enumerate();
        let carriers = scene.carriers.iter().zip(&plan.carriers_hz).enumerate();
        let dial = &scene.dial_drift;
        Ok(Self {
            senders: senders
                .map(|(k, (s, &times))| Heard::new(s, times, rate, (seed, k)))
                .collect(),
            carriers: carriers
                .map(|(k, (c, &hz))| CarrierSound::new(c, hz, rate, (seed, k)))
                .collect(),
            voices: (0..)
                .zip(&scene.voices)
                .map(|(k, &v)| Voice::new(v, rate, seed, k))
                .collect(),
            dial: (*dial != Drift::default()).then(|| Oscillator::new(0.0, 0.0, dial, rate)),
            noise: (plan.density > 0.0)
                .then(|| White::new(plan.density, rate, random(seed, Part::Noise, 0))),
            crashes: scene
                .crashes
                .map(|crashes| CrashNoise::new(crashes, rate, seed)),
            passband: scene
                .passband
                .map(|passband| PassbandFilter::new(passband, rate)),
            gain: Gain::new(scene.agc, plan.power, scene.level_dbfs, rate),
            position: 0,
            sample_rate,
            plan,
            scene,
        })
    }

    /// Samples per second.
    pub fn sample_rate(&self) -> u32 {
        self.sample_rate
    }

    /// Length of the whole scene, samples.
    pub fn samples(&self) -> u64 {
        self.plan.samples
    }

    /// How many samples have been rendered.
    pub fn position(&self) -> u64 {
        self.position
    }

    /// What really happens in this scene.
    pub fn truth(&self) -> Truth {
        Truth::new(self.scene.clone(), self.plan.clone())
    }

    /// Renders the next samples into `out` and says how many there were: all of `out`
    /// until the scene is over, then fewer, then 0. The rest of `out` is left as it is.
    pub fn fill(&mut self, out: &mut [f32]) -> usize {
        let left = self.plan.samples - self.position;
        let count = usize::try_from(left).unwrap_or(usize::MAX).min(out.len());
        for sample in &mut out[..count] {
            *sample = self.next();
        }
        self.position += count as u64;
        count
    }

    /// Renders all that is left at once; an hour at 8 kHz takes 115 MB.
    pub fn render(mut self) -> Vec<f32> {
        let left = usize::try_from(self.plan.samples - self.position).unwrap_or(usize::MAX);
        let mut all = vec![0.0; left];
        self.fill(&mut all);
        all
    }

    /// Starts again; the same as new.
    pub fn reset(&mut self) {
        if let Ok(new) = Self::new(self.scene.clone(), self.sample_rate) {
            *self = new;
        }
    }

    fn next(&mut self) -> f32 {
        let mut heard = self.signals();
        if let Some(noise) = &mut self.noise {
            heard += noise.next();
        }
        if let Some(crashes) = &mut self.crashes {
            heard += crashes.next();
        }
        if let Some(passband) = &mut self.passband {
            heard = passband.process(heard);
        }
        self.gain.process(heard)
    }

    fn signals(&mut self) -> Complex64 {
        let senders = self.senders.iter_mut().map(Heard::next);
        let carriers = self.carriers.iter_mut().map(CarrierSound::next);
        let voices = self.voices.iter_mut().map(Voice::next);
        let sum: Complex64 = senders.chain(carriers).chain(voices).sum();
        match &mut self.dial {
            Some(dial) => sum * dial.next(),
            None => sum,
        }
    }
}
