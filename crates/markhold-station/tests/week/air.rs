//! What a receiver hears in the week, as fast as time is let pass.

use crate::plan::{Bulletin, RATE};
use jiff::Timestamp;
use markhold_sound::{Source, Taken};
use markhold_station::inputs::{InputChoice, Inputs};
use markhold_station::live::Clocks;
use std::sync::atomic::{AtomicI64, Ordering::SeqCst};
use std::sync::{Arc, OnceLock};
use std::time::Duration;

/// Samples of one block.
const BLOCK: i64 = 160;
/// Noise, rms: an Es/N0 of 18 dB beside bulletins of -20 dB.
const NOISE: f32 = 0.118;

/// The air of the week, and what time it is there, ms.
#[derive(Clone)]
pub struct Week {
    bulletins: Arc<Vec<(Bulletin, OnceLock<Vec<f32>>)>>,
    now: Arc<AtomicI64>,
}

impl Week {
    pub fn new(bulletins: Vec<Bulletin>, now_ms: i64) -> Self {
        let with_sound = bulletins.into_iter().map(|b| (b, OnceLock::new()));
        Week {
            bulletins: Arc::new(with_sound.collect()),
            now: Arc::new(AtomicI64::new(now_ms)),
        }
    }

    pub fn pass_until(&self, now_ms: i64) {
        self.now.store(now_ms, SeqCst);
    }

    fn now_ms(&self) -> i64 {
        self.now.load(SeqCst)
    }

    /// Samples since the week began.
    fn samples(&self) -> i64 {
        self.now_ms() * i64::from(RATE) / 1000
    }

    pub fn clocks(&self) -> Clocks {
        let (wall, steady) = (self.clone(), self.clone());
        let since_start = move || Duration::from_millis(steady.now_ms().unsigned_abs());
        Clocks {
            wall: Box::new(move || -> Timestamp { crate::plan::at_ms(wall.now_ms()) }),
            steady: Box::new(since_start),
        }
    }

    /// Samples from this one of the week on.
    fn fill(&self, first: i64, block: &mut Vec<f32>) {
        block.clear();
        block.extend((first..first + BLOCK).map(noise));
        for (bulletin, sound) in self.bulletins.iter() {
            let begins = bulletin.from * i64::from(RATE);
            let ends = (bulletin.until + 5) * i64::from(RATE);
            if first + BLOCK <= begins || first >= ends {
                continue;
            }
            let sound = sound.get_or_init(|| bulletin.sound());
            for (sample, at) in block.iter_mut().zip(first - begins..) {
                let there = usize::try_from(at).ok().and_then(|at| sound.get(at));
                *sample += there.copied().unwrap_or(0.0);
            }
        }
    }
}

/// Nearly Gaussian: the sum of four even ones, from the sample's number.
fn noise(number: i64) -> f32 {
    let mut z = (number as u64).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^= z >> 31;
    let even = |k: u32| (z >> (16 * k) & 0xFFFF) as f32 / 65_536.0 - 0.5;
    (even(0) + even(1) + even(2) + even(3)) * 3f32.sqrt() * NOISE
}

impl Inputs for Week {
    fn list(&self) -> Vec<InputChoice> {
        Vec::new()
    }

    fn open(&self, _: &str) -> Result<Box<dyn Source>, String> {
        let next = self.samples();
        let week = self.clone();
        Ok(Box::new(Heard { week, next }))
    }
}

/// A receiver that is switched on.
struct Heard {
    week: Week,
    next: i64,
}

impl Source for Heard {
    fn name(&self) -> String {
        "the week".into()
    }

    fn rate(&self) -> u32 {
        RATE
    }

    fn is_live(&self) -> bool {
        false
    }

    fn take(&mut self, block: &mut Vec<f32>) -> Taken {
        if self.next + BLOCK > self.week.samples() {
            std::thread::sleep(Duration::from_micros(500));
            return Taken::Nothing;
        }
        self.week.fill(self.next, block);
        self.next += BLOCK;
        Taken::Sound
    }
}
