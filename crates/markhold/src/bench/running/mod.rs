//! Measuring a line while it comes: from a sound input, a pipe, time stamps, a serial port.
//!
//! Every source gives [`Part`]s: the line as it is known by now. [`Counting`] cuts them into
//! windows of a fixed number of characters and reports each.

mod sound;
mod stamps;
mod wire;

use super::report::{self, About};
use crate::outcome::{Outcome, say};
use anyhow::bail;
use markhold_bench::line::turned;
use markhold_bench::measure::running::first;
use markhold_bench::measure::{Knowledge, MeasureError};
use markhold_bench::sound::{Keying, Pair};
use markhold_bench::{Edge, caution};
use markhold_wire::StatusWire;
use std::io::Write;

/// Where the line comes from.
pub enum From {
    /// A sound input of this name.
    Input(String),
    /// Standard input: sound or time stamps.
    Pipe,
    /// Time stamps from a serial port, 115200 baud.
    Serial(String),
    /// A status wire of a serial port.
    Wire(String, StatusWire),
}

/// How to measure.
pub struct How {
    pub keying: Keying,
    pub nominal_baud: Option<f64>,
    /// Whether mark is the lower tone; `None` = whichever reads better.
    pub mark_is_lower: Option<bool>,
    pub channel: Option<u16>,
    /// Grain of the clock behind time stamps, s.
    pub grain_s: f64,
    /// Characters of one report.
    pub every: usize,
    /// Reports after which to end.
    pub times: Option<u64>,
    /// After so much of the line measuring ends, s.
    pub for_s: f64,
    pub json: bool,
}

/// How well the edges of a line are known.
#[derive(Clone, Copy, Debug, Default)]
struct Errors {
    noise_s: f64,
    worst_s: f64,
    systematic_s: f64,
}

/// A line as it is known by now.
struct Part<'a> {
    line: &'a [Edge],
    errors: Errors,
    /// The tones, where it is sound of tones.
    pair: Option<Pair>,
    /// Whether the sense is to be found.
    is_sound: bool,
}

/// Reports windows.
struct Counting<'a> {
    // Configured.
    how: &'a How,
    about: About,
    // State.
    windows: u64,
    /// What is said about a line that gives no characters, said once.
    complained: Option<String>,
}

/// Measures until the source ends, or what was asked for is done.
pub fn run(from: &From, how: &How) -> anyhow::Result<Outcome> {
    let mut counting = Counting {
        how,
        about: About {
            name: from.name(),
            source: String::new(),
            pair: None,
            mark_is_lower: true,
        },
        windows: 0,
        complained: None,
    };
    if matches!(from, From::Serial(_) | From::Wire(..)) || !matches!(how.keying, Keying::Tones(_)) {
        // Such a line is taken from a loop.
        say(&format!("Caution. {}", caution::LOOP));
    }
    match from {
        From::Input(name) => sound::input(name, &mut counting)?,
        From::Pipe => pipe(&mut counting)?,
        From::Serial(port) => stamps::port(port, &mut counting)?,
        From::Wire(port, wire) => wire::watch(port, *wire, &mut counting)?,
    }
    if counting.windows == 0 {
        bail!(
            "the line ended before {} characters came{}; give a smaller --every",
            how.every,
            counting
                .complained
                .map_or(String::new(), |why| format!(" ({why})"))
        );
    }
    Ok(Outcome::Done)
}

/// Sound or text, as the first bytes say.
fn pipe(counting: &mut Counting) -> anyhow::Result<()> {
    let input = super::listen::Begun::new(Box::new(std::io::stdin()))?;
    match input.is_text {
        true => stamps::pipe(input.whole, counting),
        false => sound::pipe(input.whole, counting),
    }
}

impl From {
    fn name(&self) -> String {
        match self {
            From::Input(name) => name.clone(),
            From::Pipe => "standard input".into(),
            From::Serial(port) | From::Wire(port, _) => port.clone(),
        }
    }
}

impl Counting<'_> {
    /// Whether enough was reported.
    fn is_done(&self) -> bool {
        self.how.times.is_some_and(|times| self.windows >= times)
    }

    /// Reports the first window of a line, if it holds one; gives where the line is new, s.
    fn window(&mut self, part: &Part) -> anyhow::Result<Option<f64>> {
        let how = self.how;
        let knowledge = Knowledge {
            nominal_baud: how.nominal_baud,
            noise_s: part.errors.noise_s,
            worst_s: part.errors.worst_s,
            systematic_s: part.errors.systematic_s,
            either_sense: part.is_sound && how.mark_is_lower.is_none(),
        };
        let begin_lower = !part.is_sound || how.mark_is_lower.unwrap_or(true);
        let found = match begin_lower {
            true => first(part.line, how.every, &knowledge),
            false => first(&turned(part.line), how.every, &knowledge),
        };
        let found = match found {
            Ok(Some(found)) => found,
            Ok(None) => return Ok(None),
            Err(error @ MeasureError::Line(_)) => return Err(error.into()),
            Err(error) => {
                self.complain(&error.to_string());
                return Ok(None);
            }
        };
        self.complained = None;
        self.about.pair = part.pair;
        self.about.mark_is_lower = begin_lower != found.measured.turned;
        let words = match how.json {
            true => report::json(&self.about, &found.measured)? + "\n",
            false => report::running(&self.about, self.windows, &found.measured),
        };
        self.windows += 1;
        let mut out = std::io::stdout().lock();
        out.write_all(words.as_bytes())?;
        out.flush()?;
        Ok(Some(found.until_s))
    }

    /// Says what is in the way, once.
    fn complain(&mut self, why: &str) {
        if self.complained.as_deref() != Some(why) {
            say(&format!("nothing measured yet: {why}"));
            self.complained = Some(why.into());
        }
    }
}

/// Edges that come one by one, and when to look at them.
struct Gathered {
    line: Vec<Edge>,
    next_look: usize,
    begun_s: Option<f64>,
}

impl Gathered {
    fn new(every: usize) -> Self {
        Gathered {
            line: Vec::new(),
            next_look: least_edges(every),
            begun_s: None,
        }
    }

    /// Adds an edge and reports what it completes; whether to go on.
    fn add(&mut self, edge: Edge, errors: Errors, counting: &mut Counting) -> anyhow::Result<bool> {
        let begun_s = *self.begun_s.get_or_insert(edge.at_s);
        self.line.push(edge);
        if self.line.len() >= self.next_look {
            self.look(errors, counting)?;
        }
        Ok(!counting.is_done() && edge.at_s - begun_s < counting.how.for_s)
    }

    /// Reports every window that is there.
    fn look(&mut self, errors: Errors, counting: &mut Counting) -> anyhow::Result<()> {
        let every = counting.how.every;
        while self.line.len() >= least_edges(every) && !counting.is_done() {
            let part = Part {
                line: &self.line,
                errors,
                pair: None,
                is_sound: false,
            };
            let Some(until_s) = counting.window(&part)? else {
                break;
            };
            self.line.retain(|edge| edge.at_s >= until_s);
        }
        // What gives no characters for so long never will.
        let most = 20 * least_edges(every);
        let over = self.line.len().saturating_sub(most);
        self.line.drain(..over);
        self.next_look = (self.line.len() + every / 4 + 1).max(least_edges(every));
        Ok(())
    }
}

/// A character has two edges at least; one more character shows that the last one is over.
fn least_edges(every: usize) -> usize {
    2 * (every + 1)
}
