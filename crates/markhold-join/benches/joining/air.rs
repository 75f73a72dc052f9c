//! What a non-coherent receiver with known timing has of a text: likelihoods of all codes,
//! with characters lost and invented.
//!
//! Of each element there are two amplitudes, one of them with the tone: `|a + n1|` and `|n0|`
//! with `a^2 = Es/N0` and complex noise of power 1. Each says `ln I0(2 a |z|)`; five such
//! differences make the likelihoods of a code. (Bit error rate `exp(-Es/N0 / 2) / 2`.)

use markhold_code::{Code, FiguresRow, Shift, ShiftMachine};
use markhold_join::{Copied, Shares, Slot};
use rand::RngExt;
use rand_xoshiro::Xoshiro256PlusPlus;

/// What is invented.
#[derive(Clone, Copy, PartialEq)]
pub enum Invented {
    /// Noise alone, and the receiver says how far it may be noise.
    FromNoise,
    /// A character like any other, of a random code.
    LikeSent,
}

/// How a copy comes about.
#[derive(Clone, Copy)]
pub struct Way {
    pub es_n0_db: f64,
    /// Probability that a character is lost, and that one is invented before it.
    pub lost: f64,
    pub invented: Invented,
    /// Slow fading of the power (Rayleigh), correlated over so many characters; 0 for none.
    pub fading: usize,
    /// Fades of 40 characters in which all is lost.
    pub fades: usize,
}

/// A copy, and which character of the text each slot is.
pub struct Simulated {
    pub copied: Copied,
    pub truth: Vec<Option<usize>>,
}

pub fn hear(codes: &[Code], way: Way, random: &mut Xoshiro256PlusPlus) -> Simulated {
    let figures = figures(codes);
    let power = 10f64.powf(way.es_n0_db / 10.0);
    let gains = gains(codes.len(), way.fading, random);
    let faded = faded(codes.len(), way.fades, random);
    let mut heard = Simulated {
        copied: Copied::default(),
        truth: Vec::new(),
    };
    for (at, code) in codes.iter().enumerate() {
        let model = power * gains[at];
        if random.random_bool(way.lost) {
            let sent = match way.invented {
                Invented::FromNoise => None,
                Invented::LikeSent => Some(Code::ALL[random.random_range(0..32)]),
            };
            heard.push(slot(sent, model, figures[at], way, random), None);
        }
        if !random.random_bool(way.lost) && !faded[at] {
            heard.push(slot(Some(*code), model, figures[at], way, random), Some(at));
        }
    }
    heard
}

impl Simulated {
    fn push(&mut self, slot: Slot, truth: Option<usize>) {
        self.copied.slots.push(slot);
        self.truth.push(truth);
    }
}

fn figures(codes: &[Code]) -> Vec<bool> {
    let mut machine = ShiftMachine::new(FiguresRow::Ita2, false);
    let shift = |code: &Code| {
        let shift = machine.shift();
        machine.receive(*code);
        shift == Shift::Figures
    };
    codes.iter().map(shift).collect()
}

fn slot(
    sent: Option<Code>,
    power: f64,
    figures: bool,
    way: Way,
    random: &mut Xoshiro256PlusPlus,
) -> Slot {
    let a = power.sqrt();
    // Logarithm of I0 for the element in mark and in space.
    let mut element = |mark: Option<bool>| {
        [Some(true), Some(false)].map(|tone| {
            let on = if mark.is_some() && mark == tone {
                a
            } else {
                0.0
            };
            let (x, y) = (on + noise(random), noise(random));
            ln_i0(2.0 * a * (x * x + y * y).sqrt())
        })
    };
    let start = element(sent.map(|_| false));
    let data: Vec<[f64; 2]> = (0..5)
        .map(|k| element(sent.map(|c| c.is_mark(k))))
        .collect();
    let of = |code: Code| -> f64 { (0..5).map(|k| data[k][usize::from(!code.is_mark(k))]).sum() };
    let logs = Code::ALL.map(of);
    let most = logs.iter().copied().fold(f64::MIN, f64::max);
    let codes: Shares = logs.map(|l| (l - most).exp() as f32);
    // Six elements with a tone each, over noise alone.
    let sum: f64 = logs.iter().map(|l| (l - most).exp()).sum::<f64>() / 32.0;
    let odds =
        start[1] + most + sum.ln() - 6.0 * power + ((1.0 - way.lost) / way.lost.max(1e-6)).ln();
    Slot {
        codes,
        present: match way.invented {
            Invented::FromNoise => (1.0 / (1.0 + (-odds).exp())) as f32,
            // What comes true of it.
            Invented::LikeSent => (1.0 - way.lost) as f32,
        },
        figures: f32::from(u8::from(figures)),
    }
}

/// Power of each character relative to the mean.
fn gains(count: usize, fading: usize, random: &mut Xoshiro256PlusPlus) -> Vec<f64> {
    if fading == 0 {
        return vec![1.0; count];
    }
    let keep = (-1.0 / fading as f64).exp();
    let add = (1.0 - keep * keep).sqrt();
    let mut z = [noise(random), noise(random)];
    let mut next = || {
        z = z.map(|x| keep * x + add * noise(random));
        z[0] * z[0] + z[1] * z[1]
    };
    (0..count).map(|_| next()).collect()
}

fn faded(count: usize, fades: usize, random: &mut Xoshiro256PlusPlus) -> Vec<bool> {
    let mut faded = vec![false; count];
    for _ in 0..fades {
        let at = random.random_range(0..count - 40);
        faded[at..at + 40].fill(true);
    }
    faded
}

/// One part of complex noise of power 1.
fn noise(random: &mut Xoshiro256PlusPlus) -> f64 {
    let (u, v): (f64, f64) = (random.random(), random.random());
    (-(1.0 - u).ln()).sqrt() * (std::f64::consts::TAU * v).cos()
}

/// Logarithm of the modified Bessel function of order 0 (Abramowitz and Stegun 9.8.1, 9.8.2).
fn ln_i0(x: f64) -> f64 {
    let poly = |t: f64, c: &[f64]| c.iter().rev().fold(0.0, |sum, c| sum * t + c);
    if x < 3.75 {
        let t = (x / 3.75).powi(2);
        let c = [
            1.0, 3.5156229, 3.0899424, 1.2067492, 0.2659732, 0.0360768, 0.0045813,
        ];
        return poly(t, &c).ln();
    }
    let c = [
        0.39894228,
        0.01328592,
        0.00225319,
        -0.00157565,
        0.00916281,
        -0.02057706,
        0.02635537,
        -0.01647633,
        0.00392377,
    ];
    x - 0.5 * x.ln() + poly(3.75 / x, &c).ln()
}
