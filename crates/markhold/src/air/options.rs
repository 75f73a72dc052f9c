//! What `markhold air` may be told.

use super::values;
use crate::choices::{Figures, Mark};
use crate::files::read_text;
use anyhow::{Context, bail};
use clap::{Args, ValueEnum};
use markhold_air::{
    Agc, Carrier, Channel, Crashes, Drift, Jump, Noise, Pace, Passband, Scene, Sender, SenderModel,
    Sense, Speech,
};
use markhold_code::{Code, EncodeOptions, FiguresRow, StartStop, encode, encode_lossy};
use std::path::PathBuf;

/// How a sender makes its two tones.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Model {
    /// One oscillator whose frequency is shifted.
    PhaseContinuous,
    /// Two oscillators, switched between.
    TwoOscillators,
    /// A new random phase at each element.
    RandomPhase,
}

/// Make a recording of text as it sounds after a way through the air.
///
/// The same options give the same recording, sample by sample. Without options for the way
/// the signal is steady and clean.
#[derive(Args, Debug)]
#[command(after_help = "\
Examples:
  markhold air \"CQ CQ DE Q1ABC\" --out practice.wav
  markhold air --file bulletin.txt --paths 1ms,0.5Hz --es-n0 14 --crashes 0.3 --out evening.wav
  markhold air RYRYRY --es-n0 8 --out - | markhold copy -")]
pub struct Options {
    /// The text to send
    #[arg(
        required_unless_present = "file",
        conflicts_with = "file",
        value_name = "TEXT"
    )]
    text: Option<String>,

    /// Send the text in this file
    #[arg(long, value_name = "FILE")]
    file: Option<PathBuf>,

    /// WAV file to make, replaced if it exists; - for standard output
    #[arg(long, value_name = "FILE")]
    pub out: PathBuf,

    /// What is sent for characters that the alphabet lacks, such as /; without it they are
    /// an error
    #[arg(long, value_name = "CHARACTER")]
    replace: Option<char>,

    /// Figures row
    #[arg(long, value_enum, default_value = "ita2")]
    figures: Figures,

    /// Modulation rate
    #[arg(
        long,
        help_heading = "Sender",
        value_name = "BAUD",
        default_value = "45.45"
    )]
    rate: f64,

    /// Stop element
    #[arg(
        long,
        help_heading = "Sender",
        value_name = "UNITS",
        default_value = "1.5"
    )]
    stop: f64,

    /// tape, or characters per second from a keyboard
    #[arg(long, help_heading = "Sender", value_parser = values::pace, default_value = "tape")]
    pace: Pace,

    /// How the tones are made
    #[arg(
        long,
        help_heading = "Sender",
        value_enum,
        default_value = "phase-continuous"
    )]
    model: Model,

    /// Keying jitter, rms
    #[arg(long, help_heading = "Sender", value_name = "MS", default_value = "0")]
    jitter: f64,

    /// Bias distortion: above 0 mark is lengthened
    #[arg(
        long,
        help_heading = "Sender",
        value_name = "PERCENT",
        default_value = "0",
        allow_negative_numbers = true
    )]
    bias: f64,

    /// Idle mark before the text
    #[arg(long, help_heading = "Sender", value_name = "S", default_value = "2")]
    lead: f64,

    /// Idle mark after the text
    #[arg(long, help_heading = "Sender", value_name = "S", default_value = "1")]
    tail: f64,

    /// Middle of the two tones
    #[arg(
        long,
        help_heading = "Tones",
        value_name = "HZ",
        default_value = "2210"
    )]
    centre: f64,

    /// Distance of the tones
    #[arg(long, help_heading = "Tones", value_name = "HZ", default_value = "170")]
    shift: f64,

    /// Which tone is mark
    #[arg(long, help_heading = "Tones", value_enum, default_value = "lower")]
    mark: Mark,

    /// Fading: delay and frequency spread of two paths (1ms,0.5Hz), spread of one path
    /// (0.2Hz), or a condition of ITU-R F.1487 (mid-latitude-moderate)
    #[arg(long, help_heading = "Way", value_parser = values::paths)]
    paths: Option<Channel>,

    /// Energy of an element over noise density; without it (or --snr) there is no noise
    #[arg(
        long,
        help_heading = "Way",
        value_name = "DB",
        conflicts_with = "snr",
        allow_negative_numbers = true
    )]
    es_n0: Option<f64>,

    /// Signal to noise in 3 kHz
    #[arg(
        long,
        help_heading = "Way",
        value_name = "DB",
        allow_negative_numbers = true
    )]
    snr: Option<f64>,

    /// Static crashes: mean number per second, and dB over the signal (20)
    #[arg(long, help_heading = "Way", value_name = "PER_S[,DB]", value_parser = values::crashes,
        allow_hyphen_values = true)]
    crashes: Option<Crashes>,

    /// A carrier beside the pair: Hz above the higher tone (negative: below the lower
    /// one), dB over the signal (0), and words per minute if it is Morse; may be repeated
    #[arg(long, help_heading = "Way", value_name = "HZ[,DB[,WPM]]",
        value_parser = values::neighbour, allow_hyphen_values = true)]
    neighbour: Vec<Carrier>,

    /// Somebody talks, dB over the signal
    #[arg(
        long,
        help_heading = "Way",
        value_name = "DB",
        allow_negative_numbers = true
    )]
    voice: Option<f64>,

    /// Steady drift of the receiver, Hz per minute
    #[arg(
        long,
        help_heading = "Receiver",
        value_name = "HZ_PER_MIN",
        default_value = "0",
        allow_negative_numbers = true
    )]
    drift: f64,

    /// Drift of a receiver that warms up: how far, and its time constant (40Hz,300s)
    #[arg(long, help_heading = "Receiver", value_name = "HZ,S", value_parser = values::warm_up,
        allow_hyphen_values = true)]
    warm_up: Option<(f64, f64)>,

    /// A jump of the receiver's frequency: when, and by how much; may be repeated
    #[arg(long, help_heading = "Receiver", value_name = "S,HZ", value_parser = values::jump)]
    jump: Vec<Jump>,

    /// The receiver's automatic gain control pumps; its decay time
    #[arg(long, help_heading = "Receiver", value_name = "S", num_args = 0..=1,
        default_missing_value = "0.5")]
    agc: Option<f64>,

    /// The receiver's audio filter
    #[arg(long, help_heading = "Receiver", value_name = "LOW,HIGH", value_parser = values::passband)]
    passband: Option<Passband>,

    /// Silence (but for noise) before the signal
    #[arg(
        long,
        help_heading = "Recording",
        value_name = "S",
        default_value = "1"
    )]
    before: f64,

    /// Silence (but for noise) after the signal
    #[arg(
        long,
        help_heading = "Recording",
        value_name = "S",
        default_value = "1"
    )]
    silence: f64,

    /// Samples per second
    #[arg(
        long,
        help_heading = "Recording",
        value_name = "HZ",
        default_value = "12000"
    )]
    pub sample_rate: u32,

    /// Output level, rms over full scale
    #[arg(
        long,
        help_heading = "Recording",
        value_name = "DBFS",
        default_value = "-15",
        allow_negative_numbers = true
    )]
    level: f64,

    /// Write 32-bit floating-point samples instead of 16-bit integers
    #[arg(long, help_heading = "Recording")]
    pub float: bool,

    /// Time of the first sample, kept in the file (2026-03-21T19:30:00Z)
    #[arg(long, help_heading = "Recording", value_name = "TIME")]
    pub begin: Option<jiff::Timestamp>,

    /// Seed of everything random
    #[arg(
        long,
        help_heading = "Recording",
        value_name = "N",
        default_value = "1"
    )]
    seed: u64,
}

impl Options {
    /// What is on the air. Errors: the file cannot be read, or its text not be sent.
    pub fn scene(&self) -> anyhow::Result<Scene> {
        Ok(Scene {
            seed: self.seed,
            silence_after_s: self.silence,
            senders: vec![self.sender(self.codes()?)],
            carriers: self.neighbour.clone(),
            voices: self.voices(),
            dial_drift: self.dial_drift(),
            noise: self.noise(),
            crashes: self.crashes,
            passband: self.passband,
            agc: self.agc.map(|decay_s| Agc {
                decay_s,
                ..Agc::default()
            }),
            level_dbfs: self.level,
            ..Scene::default()
        })
    }

    fn codes(&self) -> anyhow::Result<Vec<Code>> {
        let (name, text) = match (&self.file, &self.text) {
            (Some(file), _) => (file.display().to_string(), read_text(file)?),
            (None, text) => ("the text".to_string(), text.clone().unwrap_or_default()),
        };
        if text.is_empty() {
            bail!("{name} is empty; give something to send");
        }
        let row = FiguresRow::from(self.figures);
        let how = EncodeOptions::default();
        match self.replace {
            Some(replacement) => Ok(encode_lossy(&text, row, how, replacement)),
            None => encode(&text, row, how).with_context(|| name),
        }
    }

    fn sender(&self, codes: Vec<Code>) -> Sender {
        Sender {
            codes,
            speed: StartStop::new(exact_rate(self.rate), self.stop),
            pace: self.pace,
            begin_s: self.before,
            lead_in_s: self.lead,
            tail_s: self.tail,
            model: match self.model {
                Model::PhaseContinuous => SenderModel::PhaseContinuous,
                Model::TwoOscillators => SenderModel::TwoOscillators,
                Model::RandomPhase => SenderModel::RandomPhase,
            },
            jitter_ms: self.jitter,
            bias_percent: self.bias,
            centre_hz: self.centre,
            shift_hz: self.shift,
            sense: match self.mark {
                Mark::Lower => Sense::LowerTone,
                Mark::Higher => Sense::HigherTone,
            },
            channel: self.paths.unwrap_or_default(),
            ..Sender::default()
        }
    }

    fn voices(&self) -> Vec<Speech> {
        let voice = |level_db| Speech {
            level_db,
            ..Speech::default()
        };
        self.voice.map(voice).into_iter().collect()
    }

    fn dial_drift(&self) -> Drift {
        let (warm_up_hz, warm_up_s) = self.warm_up.unwrap_or_default();
        Drift {
            linear_hz_per_s: self.drift / 60.0,
            warm_up_hz,
            warm_up_s,
            jumps: self.jump.clone(),
            hops: None,
        }
    }

    fn noise(&self) -> Noise {
        match (self.es_n0, self.snr) {
            (Some(es_n0_db), _) => Noise::EsN0Db(es_n0_db),
            (None, Some(snr_db)) => Noise::SnrDb {
                snr_db,
                bandwidth_hz: 3000.0,
            },
            (None, None) => Noise::Silent,
        }
    }
}

/// The rate meant: 45.45 baud stands for elements of exactly 22 ms (common practice).
fn exact_rate(baud: f64) -> f64 {
    let exact = markhold_code::usual::RATES_BAUD[0];
    if (baud - exact).abs() < 0.01 {
        exact
    } else {
        baud
    }
}
