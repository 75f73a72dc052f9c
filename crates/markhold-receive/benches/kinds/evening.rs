//! One recording: who sends, on what way, through what receiver, beside what.

use crate::draw::Draw;
use crate::filter::BandPass;
use crate::path::Path;
use crate::sender::Sender;
use crate::troubles::{Trouble, amplitude};

/// How the tones stray from where they should be.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stray {
    /// Steadily, Hz a second.
    pub drift_hz_per_s: f64,
    /// A random walk: standard deviation after one second, Hz.
    pub wander_hz: f64,
}

/// Everything about a recording.
#[derive(Clone, Debug)]
pub struct Evening {
    /// Samples a second.
    pub rate: f64,
    pub seconds: f64,
    /// When the carrier comes on, s, and how long before the end it goes off.
    pub margins_s: [f64; 2],
    pub sender: Sender,
    pub path: Path,
    pub stray: Stray,
    /// Mean power times the length of an element, over one-sided noise density, dB.
    pub es_n0_db: f64,
    /// Other stations: sender, path, level beside the wanted one, dB.
    pub others: Vec<(Sender, Path, f64)>,
    pub troubles: Vec<Trouble>,
    /// The receiver's filters, one after the other.
    pub filters: Vec<BandPass>,
    /// The receiver's gain control falls at once and recovers in so many seconds.
    pub agc_s: Option<f64>,
    /// Samples above this many times the root mean square are cut off.
    pub clip: Option<f64>,
    /// Lost samples: so many gaps a minute, each up to so many seconds.
    pub losses: Option<[f64; 2]>,
    /// Root mean square of the sound, full scale 1.
    pub level: f64,
    /// Steady voltage beside the sound, full scale 1.
    pub offset: f64,
    /// The user says where to listen.
    pub pointed: bool,
}

/// A recording and the truth about it.
pub struct Recording {
    pub rate: f64,
    pub sound: Vec<f32>,
    /// What was sent in full.
    pub glyphs: String,
    /// When the first start element begins, s.
    pub begin_s: f64,
}

impl Evening {
    /// Makes the sound.
    pub fn record(&self, draw: &mut Draw) -> Recording {
        let count = (self.rate * self.seconds) as usize;
        let mut sound = vec![0.0; count];
        let [from_s, before_end_s] = self.margins_s;
        let line = self
            .sender
            .key(from_s, self.seconds - before_end_s, &mut draw.branch());
        let off_hz = self.stray.track(self.seconds, &mut draw.branch());
        let tones = self
            .sender
            .tones(&line, self.rate, count, &off_hz, &mut draw.branch());
        let heard = self.path.pass(&tones, self.rate, &mut draw.branch());
        sound.iter_mut().zip(&heard).for_each(|(s, h)| *s += h.re);
        self.neighbours(&mut sound, draw);
        for trouble in &self.troubles {
            trouble.add(&mut sound, self.rate, &mut draw.branch());
        }
        self.noise(&mut sound, &mut draw.branch());
        self.receive(&mut sound, draw);
        Recording {
            rate: self.rate,
            sound,
            glyphs: line.glyphs,
            begin_s: line.begin_s,
        }
    }

    fn neighbours(&self, sound: &mut [f32], draw: &mut Draw) {
        for (sender, path, level_db) in &self.others {
            let line = sender.key(0.0, self.seconds, &mut draw.branch());
            let tones = sender.tones(&line, self.rate, sound.len(), &|_| 0.0, &mut draw.branch());
            let heard = path.pass(&tones, self.rate, &mut draw.branch());
            let level = amplitude(*level_db) as f32;
            sound
                .iter_mut()
                .zip(&heard)
                .for_each(|(s, h)| *s += level * h.re);
        }
    }

    fn noise(&self, sound: &mut [f32], draw: &mut Draw) {
        let density = 0.5 / self.sender.baud / 10_f64.powf(self.es_n0_db / 10.0);
        let deviation = (density * self.rate / 2.0).sqrt();
        for two in sound.chunks_mut(2) {
            let drawn = draw.gauss();
            two.iter_mut()
                .zip(drawn)
                .for_each(|(s, g)| *s += (deviation * g) as f32);
        }
    }

    /// What the receiver and the sound card do.
    fn receive(&self, sound: &mut Vec<f32>, draw: &mut Draw) {
        for filter in &self.filters {
            filter.pass(sound, self.rate);
        }
        if let Some(recovers_s) = self.agc_s {
            pump(sound, self.rate, recovers_s);
        }
        let power = sound.iter().map(|s| f64::from(s * s)).sum::<f64>() / sound.len() as f64;
        let gain = (self.level / power.sqrt()) as f32;
        let top = (self.clip.unwrap_or(f64::MAX) * self.level).min(1.0) as f32;
        for s in sound.iter_mut() {
            *s = (gain * *s).clamp(-top, top) + self.offset as f32;
        }
        if let Some([per_minute, longest_s]) = self.losses {
            lose(sound, self.rate, per_minute, longest_s, &mut draw.branch());
        }
    }
}

impl Stray {
    /// Where the tones are beside their place at each instant, Hz.
    fn track(self, seconds: f64, draw: &mut Draw) -> impl Fn(f64) -> f64 + use<> {
        let grid_hz = 50.0;
        let mut at = 0.0;
        let step = |_| {
            at += self.drift_hz_per_s / grid_hz + self.wander_hz / grid_hz.sqrt() * draw.gauss()[0];
            at
        };
        let mut steps: Vec<f64> = (0..(seconds * grid_hz) as usize + 2).map(step).collect();
        // About the middle, as somebody would have tuned.
        let mean = steps.iter().sum::<f64>() / steps.len() as f64;
        steps.iter_mut().for_each(|s| *s -= mean);
        move |at_s| {
            let (k, part) = ((at_s * grid_hz) as usize, (at_s * grid_hz).fract());
            steps[k] * (1.0 - part) + steps[k + 1] * part
        }
    }
}

/// Divides by the loudest of late.
fn pump(sound: &mut [f32], rate: f64, recovers_s: f64) {
    let (keeps, comes) = (
        (-1.0 / (recovers_s * rate)).exp(),
        1.0 - (-1.0 / (0.003 * rate)).exp(),
    );
    let mut level: f64 = 1e-3;
    for s in sound {
        let now = f64::from(s.abs());
        level = if now > level {
            level + comes * (now - level)
        } else {
            level * keeps
        };
        *s = (f64::from(*s) / level.max(1e-3)) as f32;
    }
}

/// Takes samples out; what comes after moves up.
fn lose(sound: &mut Vec<f32>, rate: f64, per_minute: f64, longest_s: f64, draw: &mut Draw) {
    let mut kept = Vec::with_capacity(sound.len());
    let mut from = 0;
    while from < sound.len() {
        let until = from + (draw.waiting(60.0 / per_minute) * rate) as usize;
        kept.extend_from_slice(&sound[from..until.min(sound.len())]);
        from = until + (draw.range(0.005, longest_s) * rate) as usize;
    }
    *sound = kept;
}
