//! What is sent and what is heard of it: codes with their meaning, likelihoods with noise.

use crate::common::Draw;
use markhold_code::{Code, FiguresRow, Shift, Symbol, lookup, symbol};
use markhold_receive::characters::reading::Reading;
use markhold_receive::pair::conditions::Conditions;
use markhold_receive::pair::follower::Heard;
use markhold_receive::settings::{LanguageUse, Settings};
use markhold_receive::text::Text;
use rand::RngExt;

/// A sender's machine.
#[derive(Clone, Copy, Debug)]
pub struct Machine {
    pub row: FiguresRow,
    /// Sends the shift again after each space in figures.
    pub repeats: bool,
    /// Takes it that a space returns printers to letters.
    pub unshifts: bool,
}

/// One character that was sent: its code, and what a printer of the sender's kind prints.
pub type Sent = (Code, Option<char>);

/// Encodes a text; independent of the encoder of `markhold-code` but for its table.
pub fn encode(text: &str, machine: Machine) -> Vec<Sent> {
    let mut out = vec![(Code::LETTERS, None)];
    let (mut shift, mut after_space) = (Shift::Letters, false);
    for c in text.chars() {
        let wanted = match c {
            ' ' => Symbol::Space,
            '\r' => Symbol::CarriageReturn,
            '\n' => Symbol::LineFeed,
            '\u{7}' => Symbol::Bell,
            c => Symbol::Print(c),
        };
        let Some((code, needs)) = lookup(wanted, machine.row) else {
            continue;
        };
        if let Some(needs) = needs {
            let again = after_space && machine.repeats && needs == Shift::Figures;
            if needs != shift || again {
                shift = needs;
                out.push(match needs {
                    Shift::Letters => (Code::LETTERS, None),
                    Shift::Figures => (Code::FIGURES, None),
                });
            }
        }
        out.push((code, wanted.text()));
        after_space = c == ' ' && (after_space || shift == Shift::Figures);
        if c == ' ' && machine.unshifts {
            shift = Shift::Letters;
        }
    }
    out
}

/// Probability that a normal variable is above `x` (Abramowitz and Stegun 7.1.26, to 1e-7).
fn above(x: f64) -> f64 {
    let t = 1.0 / (1.0 + 0.327_591_1 * x / 2f64.sqrt());
    let factors = [
        1.061_405_429,
        -1.453_152_027,
        1.421_413_741,
        -0.284_496_736,
        0.254_829_592,
    ];
    let sum = factors.iter().fold(0.0, |sum, f| (sum + f) * t);
    0.5 * sum * (-x * x / 2.0).exp()
}

/// The amplitude over noise at which so many codes are read wrong.
fn amplitude(codes_wrong: f64) -> f64 {
    let element = 1.0 - (1.0 - codes_wrong).powf(0.2);
    let (mut low, mut high) = (0.0, 8.0);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if above(middle) > element {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

fn normal(draw: &mut Draw) -> f64 {
    let radius = (-2.0 * (1.0 - draw.random::<f64>()).ln()).sqrt();
    radius * (std::f64::consts::TAU * draw.random::<f64>()).cos()
}

pub const CHARACTER_S: f64 = 7.5 * ELEMENT_S;
const ELEMENT_S: f64 = 0.022;

/// Likelihoods of what was sent, when a share of codes is wrong that are taken as likeliest.
pub fn heard(sent: &[Sent], wrong: f64, draw: &mut Draw) -> Vec<Heard> {
    let amplitude = amplitude(wrong.max(1e-9));
    let characters = sent.iter().enumerate().map(|(at, (code, _))| {
        let mut codes = [1.0f64; 32];
        for element in 0..5 {
            let sign = if code.value() >> element & 1 == 1 {
                1.0
            } else {
                -1.0
            };
            let noise = if wrong > 0.0 { normal(draw) } else { 0.0 };
            let ratio = 2.0 * amplitude * (sign * amplitude + noise);
            let mark = 1.0 / (1.0 + (-ratio).exp());
            for (c, p) in codes.iter_mut().enumerate() {
                *p *= if c >> element & 1 == 1 {
                    mark
                } else {
                    1.0 - mark
                };
            }
        }
        Heard {
            start_s: at as f64 * CHARACTER_S,
            reading: Reading {
                start: 0.0,
                spread: 0.0,
                present: 1.0,
                codes: codes.map(|p| p as f32),
            },
            conditions: Conditions::default(),
        }
    });
    characters.collect()
}

/// One glyph that was read, its probability, and whether it is shown as sure.
pub type Read = (Option<char>, f32, bool);

/// A printer of the usual row that takes the likeliest codes.
pub fn printer(heard: &[Heard]) -> Vec<Read> {
    let mut machine = markhold_code::ShiftMachine::new(FiguresRow::Ita2, false);
    let print = |h: &Heard| {
        let code = Code::new(h.reading.best() as u8).expect("below 32");
        (
            machine.receive(code).text(),
            h.reading.codes[h.reading.best()],
            true,
        )
    };
    heard.iter().map(print).collect()
}

/// What [`Text`] reads, given windows of 1.5 s that look ahead for 1.2 s, as the follower
/// gives them.
pub fn read(heard: &[Heard], language: LanguageUse) -> Vec<Read> {
    let settings = Settings {
        language,
        ..Settings::default()
    };
    let (mut text, mut out) = (Text::new(&settings), Vec::new());
    let (mut taken, mut until_s) = (0, 0.0);
    while taken < heard.len() {
        until_s += 1.5;
        let upto = |s: f64| heard.partition_point(|h| h.start_s < s);
        for one in &heard[taken..upto(until_s)] {
            text.take(one.clone(), ELEMENT_S);
        }
        taken = upto(until_s);
        let ahead = &heard[taken..upto(until_s + 1.0)];
        text.give(until_s, ahead, ELEMENT_S, &mut out);
    }
    text.finish(&mut out);
    let glyph = |d: &markhold_receive::text::Decided| {
        (
            symbol(d.code, d.shift, d.row).text(),
            d.probability,
            d.probability >= d.sure,
        )
    };
    out.iter().map(glyph).collect()
}
