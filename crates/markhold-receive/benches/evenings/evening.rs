//! One recording: who sends, on what way, through what receiver, beside what.

use super::card::Card;
use super::draw::Draw;
use super::filter::BandPass;
use super::noise;
use super::path::Path;
use super::sender::Sender;
use super::stray::Stray;
use super::tone::amplitude;
use super::troubles::Trouble;

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
    /// Other stations, there all the time.
    pub others: Vec<Other>,
    pub troubles: Vec<Trouble>,
    /// The receiver's filters, one after the other.
    pub filters: Vec<BandPass>,
    pub card: Card,
    /// The user says where to listen.
    pub pointed: bool,
}

/// Another station.
#[derive(Clone, Debug)]
pub struct Other {
    pub sender: Sender,
    pub path: Path,
    /// Level beside the wanted one, dB.
    pub level_db: f64,
}

/// A recording and the truth about it.
pub struct Recording {
    pub rate: f64,
    pub sound: Vec<f32>,
    /// What was sent in full.
    pub glyphs: String,
    /// The codes of all that, shifts and fill included.
    pub codes: Vec<u8>,
    /// When the first start element begins, s.
    pub begin_s: f64,
}

impl Evening {
    /// Makes the sound.
    pub fn record(&self, draw: &mut Draw) -> Recording {
        let count = (self.rate * self.seconds) as usize;
        let mut sound = vec![0.0; count];
        let [from_s, before_end_s] = self.margins_s;
        let until_s = self.seconds - before_end_s;
        let line = self.sender.key(from_s, until_s, &mut draw.branch());
        let off_hz = self.stray.track(self.seconds, &mut draw.branch());
        let tones = &mut draw.branch();
        let sent = self.sender.tones(&line, self.rate, count, &off_hz, tones);
        let heard = self.path.pass(&sent, self.rate, &mut draw.branch());
        sound.iter_mut().zip(&heard).for_each(|(s, h)| *s += h.re);
        for other in &self.others {
            other.add(&mut sound, self.rate, self.seconds, &mut draw.branch());
        }
        for trouble in &self.troubles {
            trouble.add(&mut sound, self.rate, &mut draw.branch());
        }
        // A tone of amplitude 1 has the power 1/2.
        let density = 0.5 / self.sender.baud / 10_f64.powf(self.es_n0_db / 10.0);
        noise::add(&mut sound, self.rate, density, &mut draw.branch());
        for filter in &self.filters {
            filter.pass(&mut sound, self.rate);
        }
        self.card.take(&mut sound, self.rate, &mut draw.branch());
        Recording {
            rate: self.rate,
            sound,
            glyphs: line.glyphs,
            codes: line.codes,
            begin_s: line.begin_s,
        }
    }
}

impl Other {
    fn add(&self, sound: &mut [f32], rate: f64, seconds: f64, draw: &mut Draw) {
        let line = self.sender.key(0.0, seconds, &mut draw.branch());
        let tones = &mut draw.branch();
        let sent = self.sender.tones(&line, rate, sound.len(), &|_| 0.0, tones);
        let heard = self.path.pass(&sent, rate, &mut draw.branch());
        let level = amplitude(self.level_db) as f32;
        sound
            .iter_mut()
            .zip(&heard)
            .for_each(|(s, h)| *s += level * h.re);
    }
}
