//! From the receiver's detector to numbers in a file: gain control, level, clipping, steps of
//! the converter, lost samples.

use super::draw::Draw;

/// What happens there.
#[derive(Clone, Copy, Debug)]
pub struct Card {
    /// The receiver's gain control falls at once and recovers in so many seconds.
    pub agc_s: Option<f64>,
    /// Samples above this many times the root mean square are cut off.
    pub clip: Option<f64>,
    /// Root mean square of the sound, full scale 1.
    pub level: f64,
    /// Steady voltage beside the sound, full scale 1.
    pub offset: f64,
    /// Bits of the converter.
    pub bits: u32,
    /// Samples are lost.
    pub losses: Option<Losses>,
}

/// How samples are lost.
#[derive(Clone, Copy, Debug)]
pub struct Losses {
    pub per_minute: f64,
    /// From 5 ms to so many seconds each.
    pub longest_s: f64,
    /// Silence stands in their place; else what comes after moves up.
    pub silence: bool,
}

impl Card {
    /// What becomes of the sound.
    pub fn take(&self, sound: &mut Vec<f32>, rate: f64, draw: &mut Draw) {
        if let Some(recovers_s) = self.agc_s {
            pump(sound, rate, recovers_s);
        }
        let power = sound.iter().map(|s| f64::from(s * s)).sum::<f64>() / sound.len() as f64;
        let gain = (self.level / power.sqrt()) as f32;
        let top = (self.clip.unwrap_or(f64::MAX) * self.level).min(1.0) as f32;
        let steps = f64::from(1_u32 << (self.bits - 1)) as f32;
        for s in sound.iter_mut() {
            let volts = (gain * *s).clamp(-top, top) + self.offset as f32;
            *s = (volts * steps).round() / steps;
        }
        if let Some(losses) = self.losses {
            losses.take(sound, rate, draw);
        }
    }
}

/// Divides by the loudest of late.
fn pump(sound: &mut [f32], rate: f64, recovers_s: f64) {
    let keeps = (-1.0 / (recovers_s * rate)).exp();
    // 3 ms: common practice for the attack of such a control.
    let comes = 1.0 - (-1.0 / (0.003 * rate)).exp();
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

impl Losses {
    fn take(self, sound: &mut Vec<f32>, rate: f64, draw: &mut Draw) {
        let mut kept = Vec::with_capacity(sound.len());
        let mut from = 0;
        while from < sound.len() {
            let until = from + (draw.waiting(60.0 / self.per_minute) * rate) as usize;
            kept.extend_from_slice(&sound[from..until.min(sound.len())]);
            let lost = (draw.range(0.005, self.longest_s) * rate) as usize;
            from = until + lost;
            if self.silence {
                kept.resize(from.min(sound.len()), 0.0);
            }
        }
        *sound = kept;
    }
}
