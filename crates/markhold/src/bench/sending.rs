//! How a pattern is sent: options that `pattern` and `range` share, and the tones.

use super::values;
use clap::{Args, ValueEnum};
use markhold_bench::{Distortion, Pattern, Sending};
use markhold_code::{Code, StartStop, Stretch};
use markhold_page::Machine;
use markhold_signal::{ToneMaker, TonePlan};
use markhold_sound::{Encoding, WavSpec, WavWriter};
use std::path::Path;

/// Samples made and written at once.
const BLOCK: usize = 8192;
/// Glide from one tone to the other, elements: a tenth leaves distorted elements whole.
const GLIDE_ELEMENTS: f64 = 0.1;

/// What to send.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Kind {
    /// R and Y in turn: every selector lever moves with every character.
    Alternating,
    /// All 32 combinations.
    Combinations,
    /// A ruler of digits as long as the line, to set the margins by.
    Margins,
    /// The all-space combination over and over.
    Blank,
    /// Letters shift over and over: all mark.
    Letters,
}

impl Kind {
    /// The pattern, a line being `width` characters.
    pub fn pattern(self, width: u16) -> Pattern {
        match self {
            Kind::Alternating => Pattern::Alternating,
            Kind::Combinations => Pattern::Combinations,
            Kind::Margins => Pattern::Margins { width },
            Kind::Blank => Pattern::Repeated(Code::BLANK),
            Kind::Letters => Pattern::Repeated(Code::LETTERS),
        }
    }
}

/// Speed and tones.
#[derive(Args, Debug)]
pub struct SendingOptions {
    /// Modulation rate [default: the machine's, else 45.45]
    #[arg(long, value_name = "BAUD", value_parser = values::rate)]
    rate: Option<f64>,

    /// Stop element [default: the machine's, else 1.5]
    #[arg(long, value_name = "UNITS", value_parser = values::stop)]
    stop: Option<f64>,

    /// Characters on a line of the ruler [default: the machine's, else 72]
    #[arg(long, value_name = "CHARACTERS", value_parser = clap::value_parser!(u16).range(1..=200))]
    width: Option<u16>,

    /// Tones of the WAV file, mark first
    #[arg(long, value_name = "MARK,SPACE", default_value = "2125,2295", value_parser = values::tones)]
    tones: (f64, f64),

    /// Samples per second of the WAV file
    #[arg(long, value_name = "HZ", default_value = "48000")]
    sample_rate: u32,

    /// Seed of fortuitous distortion
    #[arg(long, value_name = "N", default_value = "1")]
    seed: u64,
}

impl SendingOptions {
    /// What is not given is as this machine has it, or usual.
    pub fn of(&self, machine: Option<&Machine>) -> HowToSend<'_> {
        let rate = self.rate.or(machine.map(|machine| machine.rate_baud));
        let stop = self.stop.or(machine.map(|machine| machine.stop_units));
        let width = self.width.or(machine.map(Machine::usable_columns));
        HowToSend {
            options: self,
            rate_baud: values::exact_rate(rate.unwrap_or(45.45)),
            stop_units: stop.unwrap_or(1.5),
            width: width.unwrap_or(72),
        }
    }
}

/// Options of sending, all of them known.
pub struct HowToSend<'a> {
    options: &'a SendingOptions,
    rate_baud: f64,
    stop_units: f64,
    /// Characters on a line of the ruler.
    pub width: u16,
}

impl HowToSend<'_> {
    /// The speed, fast by a share of itself.
    pub fn speed(&self, speed_error: f64) -> StartStop {
        StartStop::new(self.rate_baud * (1.0 + speed_error), self.stop_units)
    }

    /// The line of a pattern with this distortion, at least `count` characters.
    pub fn line(
        &self,
        pattern: Pattern,
        count: usize,
        distortion: Distortion,
        speed_error: f64,
    ) -> anyhow::Result<Vec<Stretch>> {
        let sending = Sending {
            distortion,
            seed: self.options.seed,
            ..Sending::new(self.speed(speed_error))
        };
        Ok(sending.line(&pattern.at_least(count))?)
    }

    /// Writes the line as tones.
    pub fn write_tones(&self, line: &[Stretch], out: &Path) -> anyhow::Result<()> {
        let (mark_hz, space_hz) = self.options.tones;
        let speed = self.speed(0.0);
        let plan = TonePlan {
            glide_s: GLIDE_ELEMENTS * speed.element_s(),
            ..TonePlan::new(mark_hz, space_hz, speed)
        };
        let mut maker = ToneMaker::new(plan, f64::from(self.options.sample_rate))?;
        let spec = WavSpec {
            rate: self.options.sample_rate,
            channels: 1,
            encoding: Encoding::S16,
            bext: None,
        };
        let mut writer = WavWriter::create(out, spec)?;
        let mut block = vec![0.0; BLOCK];
        line.iter().for_each(|stretch| maker.push(*stretch));
        maker.end();
        loop {
            match maker.fill(&mut block) {
                0 => break,
                count => writer.write(&block[..count])?,
            }
        }
        writer.finish()?;
        Ok(())
    }
}
