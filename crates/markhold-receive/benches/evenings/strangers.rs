//! Other services, none of which sends start-stop five-unit code. Each is some amplitude 1.

use super::draw::Draw;
use super::filter::BandPass;
use super::tone;

/// Who.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stranger {
    /// A picture scanned line by line, 60 to 240 lines a minute: the tone follows the brightness
    /// between black and white, Hz.
    Facsimile {
        black_hz: f64,
        white_hz: f64,
        lines_per_min: f64,
    },
    /// Pictures in half a second to a few minutes: like facsimile, lines much faster, each
    /// begun by a short low tone.
    SlowScan { line_s: f64 },
    /// One of so many tones at a time, evenly spaced, so many steps a second.
    Tones {
        count: usize,
        lowest_hz: f64,
        spacing_hz: f64,
        baud: f64,
    },
    /// A voice: pulses of the vocal folds through two resonances that move by syllables.
    Voice { pitch_hz: f64 },
    /// Three to five notes at a time, each with overtones.
    Chords { beats_per_s: f64 },
}

impl Stranger {
    /// So much of it.
    pub fn sound(self, rate: f64, seconds: f64, draw: &mut Draw) -> Vec<f32> {
        let mut sound = vec![0.0; (rate * seconds) as usize];
        match self {
            Stranger::Facsimile {
                black_hz,
                white_hz,
                lines_per_min,
            } => {
                let picture = Picture::new(draw);
                let line_s = 60.0 / lines_per_min;
                tone::add(&mut sound, rate, draw, |at_s| {
                    let part = picture.at((at_s / line_s).fract(), at_s / line_s / 200.0);
                    (1.0, black_hz + part * (white_hz - black_hz))
                });
            }
            Stranger::SlowScan { line_s } => {
                let picture = Picture::new(draw);
                tone::add(&mut sound, rate, draw, |at_s| {
                    let along = (at_s / line_s).fract();
                    let light = picture.at(along, at_s / line_s / 120.0);
                    let begins = along * line_s < 0.005;
                    (
                        1.0,
                        if begins {
                            1200.0
                        } else {
                            1500.0 + 800.0 * light
                        },
                    )
                });
            }
            Stranger::Tones {
                count,
                lowest_hz,
                spacing_hz,
                baud,
            } => {
                let mut own = draw.branch();
                let (mut step, mut which) = (0, 0);
                tone::add(&mut sound, rate, draw, |at_s| {
                    if (at_s * baud) as usize != step {
                        (step, which) = ((at_s * baud) as usize, own.below(count));
                    }
                    (1.0, lowest_hz + spacing_hz * which as f64)
                });
            }
            Stranger::Voice { pitch_hz } => voice(&mut sound, rate, pitch_hz, draw),
            Stranger::Chords { beats_per_s } => chords(&mut sound, rate, beats_per_s, draw),
        }
        sound
    }
}

/// Brightness, 0 to 1: some bars along the line that bend from line to line, text-like
/// black and white in between.
struct Picture {
    bars: Vec<(f64, f64, f64)>,
    fine: Vec<bool>,
}

impl Picture {
    fn new(draw: &mut Draw) -> Self {
        let bar = |d: &mut Draw| (d.range(0.5, 8.0), d.range(-3.0, 3.0), d.range(0.0, 1.0));
        let bars = (0..4).map(|_| bar(draw)).collect();
        let fine = (0..4000).map(|_| draw.chance(0.3)).collect();
        Self { bars, fine }
    }

    /// `along` the line, 0 to 1, and `down` the picture.
    fn at(&self, along: f64, down: f64) -> f64 {
        let wave = |(many, bend, begin): &(f64, f64, f64)| {
            (std::f64::consts::TAU * (many * along + bend * down + begin)).sin()
        };
        let smooth = 0.5 + 0.3 * self.bars.iter().map(wave).sum::<f64>();
        let row = (down * 20.0) as usize;
        let written =
            row.is_multiple_of(3) && self.fine[(row * 211 + (along * 400.0) as usize) % 4000];
        if written { 0.0 } else { smooth.clamp(0.0, 1.0) }
    }
}

fn voice(sound: &mut [f32], rate: f64, pitch_hz: f64, draw: &mut Draw) {
    let seconds = sound.len() as f64 / rate;
    let mut at_s = 0.0;
    while at_s < seconds {
        let lasts_s = draw.range(0.08, 0.3);
        let (first, second) = (draw.range(300.0, 900.0), draw.range(900.0, 2500.0));
        let mut turn = 0.0;
        let pitch = pitch_hz * draw.range(0.8, 1.25);
        let (from, until) = ((at_s * rate) as usize, ((at_s + lasts_s) * rate) as usize);
        let mut since_s = 0.0;
        for sample in sound.iter_mut().take(until).skip(from) {
            turn += pitch / rate;
            since_s = if turn >= 1.0 {
                0.0
            } else {
                since_s + 1.0 / rate
            };
            turn = turn.fract();
            // Each pulse rings at both resonances and dies in some 4 ms.
            let dies = (-since_s / 0.004_f64).exp();
            let ring = |hz: f64| (std::f64::consts::TAU * hz * since_s).sin();
            *sample = (dies * (ring(first) + 0.6 * ring(second))) as f32;
        }
        at_s += lasts_s + draw.range(0.01, 0.1) + if draw.chance(0.08) { 0.6 } else { 0.0 };
    }
    let telephone = BandPass {
        low_hz: 200.0,
        high_hz: 2800.0,
        order: 3,
    };
    telephone.pass(sound, rate);
}

fn chords(sound: &mut [f32], rate: f64, beats_per_s: f64, draw: &mut Draw) {
    let beat = (rate / beats_per_s) as usize;
    for chord in sound.chunks_mut(beat) {
        for _ in 0..3 + draw.below(3) {
            // Equal temperament, twelve steps an octave.
            let hz = 220.0 * 2_f64.powf(draw.below(25) as f64 / 12.0);
            for overtone in 1..=3 {
                let level = 0.3 / f64::from(overtone);
                tone::add(chord, rate, draw, |at_s| {
                    let dies = (-at_s * beats_per_s).exp();
                    (level * dies, hz * f64::from(overtone))
                });
            }
        }
    }
}
