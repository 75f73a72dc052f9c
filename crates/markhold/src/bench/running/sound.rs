//! Sound that is measured while it comes.

use super::{Counting, Errors, Part, least_edges};
use crate::outcome::say;
use anyhow::{anyhow, bail};
use markhold_bench::Edge;
use markhold_bench::sound::hear;
use markhold_sound::device::{DeviceSource, SystemInput};
use markhold_sound::{ReadOptions, SoundReader};
use markhold_sound::{Source, Taken};
use markhold_station::inputs::named;
use std::io::Read;

/// Between two looks at what came, s of sound.
const LOOK_S: f64 = 1.0;
/// Sound before the line that is new, s: what filters need to settle (their response dies
/// away within 48 ms).
const BEFORE_S: f64 = 0.3;
/// Sound without keying is forgotten after this, s; the beginning of a line is in the rest.
const MOST_S: f64 = 120.0;
/// No character of a start-stop line is shorter, s: 7 units at 100 baud.
const SHORTEST_S: f64 = 0.07;
/// So far before its own time a start edge may be found again when it is heard anew, s.
const JUST_BEFORE_S: f64 = 0.002;
const SAMPLES: usize = 4096;

/// Sound that is not measured yet.
struct Heard<'a, 'b> {
    counting: &'a mut Counting<'b>,
    rate_hz: f64,
    samples: Vec<f32>,
    /// Up to here the line was measured, s from the first sample.
    done_s: f64,
    /// Samples at the next look.
    next_look: usize,
    /// Samples since the beginning.
    all: u64,
}

/// From a sound input of this computer.
pub fn input(name: &str, counting: &mut Counting) -> anyhow::Result<()> {
    let id = named(name).map_err(|why| anyhow!(why))?;
    let channel = counting.how.channel.unwrap_or(1);
    let mut source = DeviceSource::open(SystemInput { id }, channel).map_err(|why| anyhow!(why))?;
    counting.about.source = source.name();
    say(&format!("measuring {}; Ctrl-C ends it", source.name()));
    follow(&mut source, counting)
}

/// From any live source.
fn follow(source: &mut dyn Source, counting: &mut Counting) -> anyhow::Result<()> {
    let mut heard = Heard::new(source.rate(), counting);
    let mut block = Vec::new();
    loop {
        match source.take(&mut block) {
            Taken::Sound => {
                if !heard.add(&block)? {
                    return Ok(());
                }
            }
            Taken::Nothing => {}
            Taken::Gap { .. } | Taken::Lost => heard.anew("sound was lost", source.rate()),
            Taken::Gone { why } => say(&format!("no sound: {why}; it is waited for")),
            Taken::Back { .. } => heard.anew("the sound is back", source.rate()),
            Taken::Ended { why: Some(why) } => bail!("the sound ended: {why}"),
            Taken::Ended { why: None } => return heard.look(),
        }
    }
}

/// From standard input.
pub fn pipe(input: impl Read + Send + 'static, counting: &mut Counting) -> anyhow::Result<()> {
    let options = ReadOptions {
        channel: counting.how.channel,
        ..ReadOptions::default()
    };
    let mut reader = SoundReader::from_read(input, &options)?;
    counting.about.source = reader.describe();
    let mut heard = Heard::new(reader.rate(), counting);
    let mut block = vec![0.0; SAMPLES];
    loop {
        match reader.read(&mut block)? {
            0 => return heard.look(),
            count if heard.add(&block[..count])? => {}
            _ => return Ok(()),
        }
    }
}

impl<'a, 'b> Heard<'a, 'b> {
    fn new(rate: u32, counting: &'a mut Counting<'b>) -> Self {
        Heard {
            counting,
            rate_hz: f64::from(rate),
            samples: Vec::new(),
            done_s: 0.0,
            next_look: 0,
            all: 0,
        }
    }

    /// What comes next does not belong to what came before.
    fn anew(&mut self, why: &str, rate: u32) {
        say(&format!("{why}; counting characters from the beginning"));
        self.rate_hz = f64::from(rate);
        self.samples.clear();
        (self.done_s, self.next_look) = (0.0, 0);
    }

    /// Adds sound and reports what it completes; whether to go on.
    fn add(&mut self, block: &[f32]) -> anyhow::Result<bool> {
        self.samples.extend_from_slice(block);
        self.all += block.len() as u64;
        if self.samples.len() >= self.next_look {
            self.look()?;
            self.next_look = self.samples.len() + (LOOK_S * self.rate_hz) as usize;
        }
        let heard_s = self.all as f64 / self.rate_hz;
        Ok(!self.counting.is_done() && heard_s < self.counting.how.for_s)
    }

    /// Reports every window that is there.
    fn look(&mut self) -> anyhow::Result<()> {
        while !self.counting.is_done() {
            let Some(until_s) = self.window()? else {
                let length_s = self.samples.len() as f64 / self.rate_hz;
                self.forget(length_s - MOST_S);
                break;
            };
            // The next start edge itself is new.
            self.done_s = until_s - JUST_BEFORE_S;
            self.forget(until_s - BEFORE_S);
        }
        Ok(())
    }

    /// Reports the first window, if there is one; gives where the line is new then, s.
    fn window(&mut self) -> anyhow::Result<Option<f64>> {
        let how = self.counting.how;
        let new_s = self.samples.len() as f64 / self.rate_hz - self.done_s;
        if new_s < SHORTEST_S * how.every as f64 {
            return Ok(None);
        }
        let heard = match hear(&self.samples, self.rate_hz, how.keying, how.nominal_baud) {
            Ok(heard) => heard,
            Err(error) => {
                self.counting.complain(&error.to_string());
                return Ok(None);
            }
        };
        let new = |edge: &&Edge| edge.at_s >= self.done_s;
        let line: Vec<Edge> = heard.line.iter().filter(new).copied().collect();
        if line.len() < least_edges(how.every) {
            return Ok(None);
        }
        self.counting.window(&Part {
            line: &line,
            errors: Errors {
                noise_s: heard.noise_s,
                worst_s: heard.worst_s,
                systematic_s: heard.systematic_s,
            },
            pair: heard.pair,
            is_sound: true,
        })
    }

    /// Forgets sound before this time, s.
    fn forget(&mut self, before_s: f64) {
        let count = (before_s.max(0.0) * self.rate_hz) as usize;
        if count > 0 {
            self.samples.drain(..count.min(self.samples.len()));
            self.done_s = (self.done_s - count as f64 / self.rate_hz).max(0.0);
        }
    }
}
