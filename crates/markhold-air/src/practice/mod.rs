//! The practice band: a few invented stations without an end, and a receiver whose dial,
//! sideband, static and volume the person turns while it runs.
//!
//! ```text
//! stations at radio frequencies --+
//! a keyed carrier ----------------+-- dial -- sideband -- noise, crashes -- filter -- AGC -- volume
//!                                      warm-up                             300 to 2700 Hz
//! ```
//!
//! A station on the upper sideband is heard at its radio frequency less the dial, on the
//! lower sideband at the dial less its radio frequency: there the tones change places.
//!
//! The same seed and the same controls turned at the same sample positions give the same
//! samples, however they are cut into blocks.

mod called;
mod controls;
mod over;
mod station;

pub use called::PracticeAnswer;
pub use controls::{Controls, Sideband, WarmUp};
pub use station::{PracticeStation, stations};

use crate::carrier::{Carrier, CarrierSound, Keying, Place};
use crate::crash::CrashNoise;
use crate::error::SceneError;
use crate::gain::{Agc, Gain};
use crate::noise::White;
use crate::passband::SidebandFilter;
use crate::random::{Part, cis, random};
use called::Once;
use num_complex::Complex64;
use over::Overs;

/// Level of a steady tone at volume 0 dB, dB: rms over full scale.
const LEVEL_DBFS: f64 = -15.0;
/// Strongest station over noise in 3 kHz, dB: a fair evening on 40 m (plain sense).
const SNR_DB: f64 = 20.0;
/// The filter, Hz of audio: a usual voice filter (common practice).
const FILTER_HZ: (f64, f64) = (300.0, 2700.0);
/// What lies further from the dial than this share of half the sample rate is left out: it
/// would fold back, and the filter lets nothing of it through anyway.
const HEARD: f64 = 0.875;
/// The dial's warm-up moves in steps of this many samples, far shorter than any drift.
const HOLD_SAMPLES: u64 = 64;
/// Sample rates that hold the filter, and that a practice receiver is affordable at, Hz.
const RATES_HZ: (f64, f64) = (8e3, 48e3);

/// What one thing on the air does to the dial's audio.
#[derive(Clone, Debug)]
struct Heard<S> {
    radio_hz: f64,
    phase: f64,
    source: S,
}

/// The practice band and its receiver.
#[derive(Clone, Debug)]
pub struct Practice {
    // Configured.
    seed: u64,
    sample_rate: u32,
    controls: Controls,
    // Derived: what the dial really stands at with its warm-up, Hz, and the volume as a factor.
    tuned_hz: f64,
    volume: f64,
    // State.
    stations: Vec<Heard<Overs>>,
    neighbour: Heard<CarrierSound>,
    answer: Option<Heard<Once>>,
    /// How many there have been.
    answers: usize,
    noise: White,
    crashes: Option<CrashNoise>,
    /// How often the static was turned: each turn draws crashes of its own.
    static_turns: u64,
    filter: SidebandFilter,
    gain: Gain,
    position: u64,
}

impl Practice {
    /// A band just switched on, at 8000 to 48000 samples per second.
    ///
    /// # Errors
    ///
    /// A sample rate outside that.
    pub fn new(sample_rate: u32, seed: u64) -> Result<Self, SceneError> {
        let rate = f64::from(sample_rate);
        crate::error::within("sample rate of the practice band", rate, RATES_HZ, "Hz")?;
        let controls = Controls::default();
        let density = 1.0 / 10f64.powf(SNR_DB / 10.0) / 3000.0;
        let stations = stations().iter().enumerate().map(|(index, station)| Heard {
            radio_hz: station.middle_hz(),
            phase: 0.0,
            source: Overs::new(station, index, rate, seed),
        });
        let mut practice = Self {
            stations: stations.collect(),
            neighbour: neighbour(rate, seed),
            answer: None,
            answers: 0,
            noise: White::new(density, rate, random(seed, Part::Noise, 0)),
            crashes: None,
            static_turns: 0,
            filter: SidebandFilter::new(FILTER_HZ, rate),
            gain: Gain::new(Some(Agc::default()), 1.0, LEVEL_DBFS, rate),
            position: 0,
            tuned_hz: 0.0,
            volume: 1.0,
            seed,
            sample_rate,
            controls,
        };
        practice.turn_static();
        practice.turned();
        Ok(practice)
    }

    /// Samples per second.
    pub fn sample_rate(&self) -> u32 {
        self.sample_rate
    }

    /// How many samples have been heard.
    pub fn position(&self) -> u64 {
        self.position
    }

    /// How everything stands.
    pub fn controls(&self) -> Controls {
        self.controls
    }

    /// Turns the dial: the suppressed carrier of the sideband, Hz of radio. The dial stops at
    /// the ends of its scale ([`Controls::DIAL_HZ`]).
    pub fn set_dial(&mut self, dial_hz: f64) {
        self.set(Controls {
            dial_hz,
            ..self.controls
        });
    }

    /// Takes the other sideband, or the same.
    pub fn set_sideband(&mut self, sideband: Sideband) {
        self.set(Controls {
            sideband,
            ..self.controls
        });
    }

    /// Sets how far the receiver was off at switch-on and how fast it settles.
    pub fn set_warm_up(&mut self, warm_up: WarmUp) {
        self.set(Controls {
            warm_up,
            ..self.controls
        });
    }

    /// Sets how many static crashes come in a minute, 0 to [`Controls::STATIC_PER_MIN`].
    pub fn set_static(&mut self, static_per_min: f64) {
        self.set(Controls {
            static_per_min,
            ..self.controls
        });
    }

    /// Sets the volume, dB; at 0 a steady tone comes out 15 dB under full scale.
    pub fn set_volume(&mut self, volume_db: f64) {
        self.set(Controls {
            volume_db,
            ..self.controls
        });
    }

    /// Takes everything at once.
    pub fn set(&mut self, controls: Controls) {
        let before = self.controls;
        self.controls = controls.on_scales(before);
        if before.static_per_min != self.controls.static_per_min {
            self.static_turns += 1;
            self.turn_static();
        }
        self.turned();
    }

    /// Somebody sends this once, from now on; an answer that is still being sent breaks off.
    pub fn answer(&mut self, answer: &PracticeAnswer) {
        self.answers += 1;
        let rate = f64::from(self.sample_rate);
        self.answer = Some(Heard {
            radio_hz: answer.mark_hz + answer.shift_hz / 2.0,
            phase: 0.0,
            source: Once::new(answer, rate, (self.seed, self.answers)),
        });
    }

    /// Whether an answer is being sent.
    pub fn is_answering(&self) -> bool {
        self.answer.is_some()
    }

    /// Where mark and space of a station are heard now, Hz of audio, below 0 on the other
    /// side of the dial; `None` if there is no such station.
    pub fn tones_hz(&self, station: usize) -> Option<[f64; 2]> {
        let station = stations().get(station)?;
        let sign = self.controls.sideband.sign();
        Some([station.mark_hz, station.space_hz()].map(|hz| sign * (hz - self.tuned_hz)))
    }

    /// Fills `out` with the next samples, -1 to 1.
    pub fn fill(&mut self, out: &mut [f32]) {
        for sample in out {
            *sample = self.next();
        }
    }

    fn next(&mut self) -> f32 {
        if self.position.is_multiple_of(HOLD_SAMPLES) {
            self.turned();
        }
        let mut heard = self.signals();
        if self.controls.sideband == Sideband::Lower {
            heard = heard.conj();
        }
        heard += self.noise.next();
        if let Some(crashes) = &mut self.crashes {
            heard += crashes.next();
        }
        let filtered = self.filter.process(heard);
        self.position += 1;
        (f64::from(self.gain.process(filtered)) * self.volume).clamp(-1.0, 1.0) as f32
    }

    /// Everything on the air around the dial, upper sideband.
    fn signals(&mut self) -> Complex64 {
        let rate = f64::from(self.sample_rate);
        let tuned_hz = self.tuned_hz;
        let stations = self.stations.iter_mut();
        let mut sum: Complex64 = stations
            .map(|s| s.source.next() * turn(&mut s.phase, s.radio_hz - tuned_hz, rate))
            .sum();
        self.answer.take_if(|answer| answer.source.is_over());
        if let Some(answer) = &mut self.answer {
            let beat_hz = answer.radio_hz - tuned_hz;
            sum += answer.source.next() * turn(&mut answer.phase, beat_hz, rate);
        }
        let neighbour = &mut self.neighbour;
        let beat_hz = neighbour.radio_hz - tuned_hz;
        sum += neighbour.source.next() * turn(&mut neighbour.phase, beat_hz, rate);
        sum
    }

    /// Works out what follows from the controls and the warm-up at this position.
    fn turned(&mut self) {
        let since_s = self.position as f64 / f64::from(self.sample_rate);
        self.tuned_hz = self.controls.dial_hz + self.controls.warm_up.hz_at(since_s);
        self.volume = 10f64.powf(self.controls.volume_db / 20.0);
    }

    fn turn_static(&mut self) {
        let seed = self.seed.wrapping_add(self.static_turns << 32);
        let crashes = self.controls.crashes();
        self.crashes = crashes.map(|c| CrashNoise::new(c, f64::from(self.sample_rate), seed));
    }
}

/// One sample of the beat with the dial; its phase, cycles, never breaks. 0 beyond hearing.
fn turn(phase: &mut f64, beat_hz: f64, sample_rate: f64) -> Complex64 {
    let now = *phase;
    *phase = (now + beat_hz / sample_rate).fract();
    if beat_hz.abs() > HEARD * sample_rate / 2.0 {
        return Complex64::ZERO;
    }
    cis(now)
}

/// Somebody sending Morse near the first station.
fn neighbour(sample_rate: f64, seed: u64) -> Heard<CarrierSound> {
    let carrier = Carrier {
        place: Place::At(0.0),
        keying: Keying::Morse { wpm: 18.0 },
        level_db: -9.0,
        ..Carrier::default()
    };
    Heard {
        radio_hz: stations()[0].mark_hz + 900.0,
        phase: 0.0,
        source: CarrierSound::new(&carrier, 0.0, sample_rate, (seed, 0)),
    }
}

#[cfg(test)]
mod tests;
