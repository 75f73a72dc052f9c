//! A pattern on a machine's line.

use crate::machine::{CAUTION, Outfit, no_way};
use crate::outcome::say;
use crate::{stopping, words};
use anyhow::Context;
use clap::Args;
use markhold_code::{Code, StartStop, Stretch};
use markhold_wire::play::Setup;
use markhold_wire::{Keyer, KeyerError};
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// Longest mark held in one call, s, so that it can be broken off.
const PIECE_S: f64 = 0.15;
/// Mark before the pattern and after it, s: as in a file.
const MARK_S: f64 = 0.5;

/// The machine that a pattern is sent to.
#[derive(Args, Debug, Default)]
pub struct ToOptions {
    /// Send it to this page printer: one of the settings file, or a ready-made one (markhold
    /// machine lists them)
    #[arg(long, value_name = "NAME", help_heading = "Machine")]
    pub to: Option<String>,

    /// The way to it
    #[arg(long, value_name = "WAY", requires = "to", help_heading = "Machine")]
    way: Option<String>,

    /// Change a key of the machine, as in rate_baud=50
    #[arg(
        long,
        value_name = "KEY=VALUE",
        requires = "to",
        help_heading = "Machine"
    )]
    set: Vec<String>,

    /// The settings file
    #[arg(long, value_name = "FILE", requires = "to", help_heading = "Machine")]
    settings: Option<PathBuf>,
}

impl ToOptions {
    /// The machine with the changes of the command line, if one is named.
    pub fn setup(&self) -> anyhow::Result<Option<(String, Setup)>> {
        let Some(name) = &self.to else {
            return Ok(None);
        };
        let outfit = Outfit {
            way: self.way.clone(),
            set: self.set.clone(),
            settings: self.settings.clone(),
            ..Outfit::default()
        };
        let setup = outfit.setup(name)?;
        if setup.way.is_none() {
            anyhow::bail!(no_way(name));
        }
        Ok(Some((name.clone(), setup)))
    }
}

/// `None` once it was stopped.
type Shared = Arc<Mutex<Option<Box<dyn Keyer>>>>;

/// A machine's line that takes patterns.
pub struct OnLine {
    name: String,
    speed: StartStop,
    keyer: Shared,
}

impl OnLine {
    /// Opens the way at this speed, and starts the motor. Told to stop, the line goes to
    /// mark within a character and the motor off.
    pub fn open(name: &str, setup: &Setup, speed: StartStop) -> anyhow::Result<OnLine> {
        let mut setup = setup.clone();
        setup.machine.rate_baud = speed.rate_baud;
        setup.machine.stop_units = speed.stop_units;
        let way = setup.way().with_context(|| no_way(name))?;
        let keyer = way.open().with_context(|| name.to_string())?;
        say(CAUTION);
        let on_line = OnLine {
            name: name.into(),
            speed,
            keyer: Arc::new(Mutex::new(Some(keyer))),
        };
        on_line.stop_when_told()?;
        if setup.machine.motor {
            on_line.with(|keyer| keyer.motor(true))?;
            on_line.hold(setup.machine.run_up_s)?;
        }
        Ok(on_line)
    }

    /// Sends whole characters, which every way can.
    pub fn send(&self, codes: &[Code]) -> anyhow::Result<()> {
        let seconds = codes.len() as f64 * self.speed.character_s();
        self.begin(seconds)?;
        for code in codes {
            self.with(|keyer| keyer.send(*code))?;
        }
        self.end()
    }

    /// Sends a line as it is, distortion and all.
    pub fn line(&self, line: &[Stretch]) -> anyhow::Result<()> {
        self.begin(line.iter().map(|s| s.length_s).sum())?;
        for piece in pieces(line, self.speed) {
            self.with(|keyer| keyer.line(piece))?;
        }
        self.end()
    }

    fn begin(&self, seconds: f64) -> anyhow::Result<()> {
        let (name, length) = (&self.name, words::time(seconds));
        say(&format!("{name}: sending for {length}"));
        self.hold(MARK_S)
    }

    fn end(&self) -> anyhow::Result<()> {
        self.with(|keyer| keyer.finish())?;
        self.hold(MARK_S)
    }

    /// Piece by piece.
    fn hold(&self, seconds: f64) -> anyhow::Result<()> {
        let pieces = (seconds / PIECE_S).ceil();
        for _ in 0..pieces as u64 {
            self.with(|keyer| keyer.hold(seconds / pieces))?;
        }
        Ok(())
    }

    fn with(
        &self,
        what: impl FnOnce(&mut dyn Keyer) -> Result<(), KeyerError>,
    ) -> anyhow::Result<()> {
        // Whoever stops it waits for the lock, and is not to be kept waiting.
        let mut keyer = match stopping::told() {
            true => None,
            false => Some(lock(&self.keyer)),
        };
        let keyer = keyer.as_mut().and_then(|keyer| keyer.as_deref_mut());
        let keyer = keyer.with_context(|| format!("{}: stopped", self.name))?;
        what(keyer).with_context(|| self.name.clone())
    }

    fn stop_when_told(&self) -> anyhow::Result<()> {
        let (name, keyer) = (self.name.clone(), Arc::clone(&self.keyer));
        let stop = move || {
            if let Some(mut keyer) = lock(&keyer).take() {
                let _ = keyer.cancel();
                let _ = keyer.motor(false);
                drop(keyer);
                say(&format!("{name}: stopped; the line is in mark"));
            }
        };
        stopping::on_stop(stop).context("signals that stop the program")
    }
}

impl Drop for OnLine {
    fn drop(&mut self) {
        if let Some(mut keyer) = lock(&self.keyer).take() {
            let _ = keyer.motor(false);
        }
    }
}

fn lock(keyer: &Shared) -> MutexGuard<'_, Option<Box<dyn Keyer>>> {
    keyer.lock().unwrap_or_else(PoisonError::into_inner)
}

/// A line cut within marks of at least an element, about a character each, so that it can
/// be broken off; neither transitions nor times change.
fn pieces(line: &[Stretch], speed: StartStop) -> impl Iterator<Item = &[Stretch]> {
    let mut length_s = 0.0;
    line.split_inclusive(move |stretch| {
        length_s += stretch.length_s;
        let ends = stretch.mark
            && stretch.length_s > speed.element_s()
            && length_s > speed.character_s() - speed.element_s();
        if ends {
            length_s = 0.0;
        }
        ends
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_bench::{Distortion, Pattern, Sending};

    #[test]
    fn a_line_is_cut_in_marks_and_stays_whole() {
        let speed = StartStop::new(50.0, 1.5);
        for pattern in [Pattern::Alternating, Pattern::Combinations] {
            let sending = Sending {
                distortion: Distortion {
                    bias: -0.3,
                    fortuitous: 0.1,
                    ..Distortion::default()
                },
                ..Sending::new(speed)
            };
            let line = sending.line(&pattern.at_least(100)).unwrap();
            let pieces: Vec<_> = pieces(&line, speed).collect();
            assert!(pieces.len() > 60, "{}", pieces.len());
            for piece in &pieces {
                assert!(piece[piece.len() - 1].mark);
                // Until the mark in which it may be broken off.
                let keyed = &piece[..piece.len() - 1];
                let length_s: f64 = keyed.iter().map(|s| s.length_s).sum();
                assert!(length_s < 3.0 * speed.character_s(), "{length_s}");
            }
            assert_eq!(pieces.concat(), line);
        }
    }
}
