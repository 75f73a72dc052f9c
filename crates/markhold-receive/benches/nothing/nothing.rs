//! Twelve kinds of nothing: what is heard where nobody sends start-stop five-unit code.

use crate::evenings::draw::Draw;
use crate::evenings::filter::{BandPass, shape};
use crate::evenings::noise;
use crate::evenings::strangers::Stranger;
use crate::evenings::tone::{self, amplitude};
use crate::evenings::troubles::{Trouble, morse};
use markhold_transform::Complex;

/// Adds what is heard beside the noise, whose density is such that a tone of amplitude 1 is
/// 0 dB over it in 3 kHz.
type Add = fn(&mut [f32], f64, &mut Draw);

/// One kind.
pub struct Nothing {
    pub name: &'static str,
    pub add: Add,
    /// The receiver passes only part of the band.
    pub filtered: bool,
}

pub fn all() -> Vec<Nothing> {
    let kinds: [(&str, bool, Add); 13] = [
        ("white noise", false, |_, _, _| {}),
        ("noise through a speech filter", true, |_, _, _| {}),
        ("an empty band that slopes", false, slope),
        ("facsimile", true, |s, rate, d| {
            let [black_hz, white_hz] = d.pick(&[[1500.0, 2300.0], [2300.0, 1500.0]]);
            let facsimile = Stranger::Facsimile {
                black_hz,
                white_hz,
                lines_per_min: d.pick(&[60.0, 90.0, 120.0, 240.0]),
            };
            loud(s, rate, d, facsimile, 3.0, 25.0);
        }),
        ("slow-scan pictures", true, |s, rate, d| {
            let line_s = d.ratio(0.06, 0.5);
            loud(s, rate, d, Stranger::SlowScan { line_s }, 3.0, 25.0);
        }),
        ("data with many tones", true, many_tones),
        ("Morse", true, |s, rate, d| {
            for _ in 0..1 + d.below(6) {
                Trouble::Morse {
                    hz: d.range(300.0, 2700.0),
                    level_db: d.range(0.0, 25.0),
                    wpm: d.range(10.0, 35.0),
                }
                .add(s, rate, d);
            }
        }),
        ("two keyed carriers", true, keyed_carriers),
        ("voices", true, |s, rate, d| {
            for _ in 0..1 + d.below(2) {
                let pitch_hz = d.range(90.0, 230.0);
                loud(s, rate, d, Stranger::Voice { pitch_hz }, 3.0, 25.0);
            }
        }),
        ("chords", true, |s, rate, d| {
            let beats_per_s = d.range(0.5, 4.0);
            loud(s, rate, d, Stranger::Chords { beats_per_s }, 3.0, 25.0);
        }),
        ("steady carriers", true, carriers),
        ("static", true, |s, rate, d| {
            Trouble::Static {
                per_s: d.ratio(0.3, 10.0),
                level_db: d.range(10.0, 35.0),
                lasts_s: d.ratio(0.003, 0.2),
            }
            .add(s, rate, d);
        }),
        ("hum and buzz", true, |s, rate, d| {
            let mains_hz = d.pick(&[50.0, 60.0]);
            Trouble::Hum {
                mains_hz,
                level_db: d.range(5.0, 30.0),
                falls_db: d.range(1.0, 8.0),
            }
            .add(s, rate, d);
            let level_db = d.range(-10.0, 20.0);
            Trouble::Buzz { mains_hz, level_db }.add(s, rate, d);
        }),
    ];
    let kind = |(name, filtered, add)| Nothing {
        name,
        add,
        filtered,
    };
    kinds.into_iter().map(kind).collect()
}

impl Nothing {
    /// So much of it, s; the sampling rate, Hz, is drawn.
    pub fn record(&self, seconds: f64, draw: &mut Draw) -> (Vec<f32>, f64) {
        let rate = draw.pick(&[8000.0, 48_000.0]);
        let mut sound = vec![0.0; (rate * seconds) as usize];
        noise::add(&mut sound, rate, 0.5 / 3000.0, &mut draw.branch());
        (self.add)(&mut sound, rate, draw);
        if self.filtered {
            let speech = BandPass {
                low_hz: draw.range(50.0, 400.0),
                high_hz: draw.range(2200.0, 3800.0),
                order: 2 + draw.below(11),
            };
            speech.pass(&mut sound, rate);
        }
        let power = sound.iter().map(|s| f64::from(s * s)).sum::<f64>() / sound.len() as f64;
        let gain = (draw.ratio(0.003, 0.2) / power.sqrt()) as f32;
        sound.iter_mut().for_each(|s| *s *= gain);
        (sound, rate)
    }
}

/// Adds another service at a level from `low_db` to `high_db`.
fn loud(
    sound: &mut [f32],
    rate: f64,
    draw: &mut Draw,
    stranger: Stranger,
    low_db: f64,
    high_db: f64,
) {
    let level_db = draw.range(low_db, high_db);
    Trouble::Stranger { stranger, level_db }.add(sound, rate, draw);
}

/// The whole band falls by some dB each kilohertz.
fn slope(sound: &mut [f32], rate: f64, draw: &mut Draw) {
    let db_per_khz = draw.range(-20.0, 20.0);
    shape(sound, rate, |hz| {
        Complex::from(amplitude(db_per_khz * (hz.min(4000.0) / 1000.0 - 2.0)))
    });
}

fn many_tones(sound: &mut [f32], rate: f64, draw: &mut Draw) {
    let spacing_hz = draw.pick(&[15.625, 20.0, 31.25, 40.0, 62.5, 125.0]);
    let count = draw
        .pick(&[4, 8, 16, 32])
        .min((2000.0 / spacing_hz) as usize);
    let tones = Stranger::Tones {
        count,
        lowest_hz: draw.range(300.0, 2700.0 - spacing_hz * count as f64),
        spacing_hz,
        baud: spacing_hz * draw.pick(&[0.5, 1.0]),
    };
    loud(sound, rate, draw, tones, 3.0, 25.0);
}

/// Two carriers as far apart as usual tones, each keyed for itself.
fn keyed_carriers(sound: &mut [f32], rate: f64, draw: &mut Draw) {
    let low_hz = draw.range(400.0, 1700.0);
    let shift_hz = draw.pick(&[85.0, 170.0, 200.0, 425.0, 850.0]) + draw.range(-20.0, 20.0);
    let level_db = draw.range(3.0, 25.0);
    for hz in [low_hz, low_hz + shift_hz] {
        let high = amplitude(level_db + draw.range(-3.0, 3.0));
        let wpm = draw.range(10.0, 40.0);
        morse(sound, rate, &mut draw.branch(), wpm, |key| (high * key, hz));
    }
}

/// Carriers that drift, and some whose level swings.
fn carriers(sound: &mut [f32], rate: f64, draw: &mut Draw) {
    for _ in 0..1 + draw.below(8) {
        let (hz, high) = (draw.range(300.0, 2800.0), amplitude(draw.range(0.0, 25.0)));
        let (drift, swing_s) = (draw.range(-0.5, 0.5), draw.ratio(0.05, 20.0));
        let depth = draw.pick(&[0.0, 0.0, 0.5]);
        tone::add(sound, rate, &mut draw.branch(), |at_s| {
            let swing = 1.0 + depth * (std::f64::consts::TAU * at_s / swing_s).sin();
            (high * swing, hz + drift * at_s)
        });
    }
}
