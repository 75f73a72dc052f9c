//! The open transmitter: plays an over.

use super::arming::Arming;
use super::cable::{Cable, check_unkeyed};
use super::in_file::in_file;
use super::key::{Key, OffSwitch};
use super::key_words::KeyWords;
use super::piece::{Piece, Script};
use super::plan::TransmitterPlan;
use crate::{Keyer, KeyerError, SerialKeyer, TimedKeyer, Way};
use std::path::PathBuf;
use std::time::{Duration, Instant};

/// Longest mark held in one call, s, and longest sleep: what ends an over is looked at so often.
const PIECE_S: f64 = 0.1;

/// How an over ended.
#[derive(Debug)]
pub enum Ended {
    /// Everything was sent.
    Whole,
    /// It was turned off.
    TurnedOff,
    /// The leave to send had ended, or was taken back.
    Disarmed,
    /// It was longer than the longest over.
    TooLong,
    /// The way or the key failed.
    Failed(KeyerError),
}

/// What came of an over.
#[derive(Debug)]
pub struct Over {
    /// How it ended.
    pub ended: Ended,
    /// Whether the transmitter is known to be unkeyed.
    pub unkeyed: Result<(), KeyerError>,
    /// Characters sent.
    pub codes: u64,
    /// How long the line lasted, s.
    pub lasted_s: f64,
}

/// A way to the air and a key, open and unkeyed. Dropping it unkeys.
pub struct Transmitter {
    // Configured.
    plan: TransmitterPlan,
    /// Whether the line goes by the clock; a file does not.
    clocked: bool,
    /// Whether the line is heard: tones that are off between overs.
    sounds: bool,
    cable: Cable,
    // State. The key is dropped first.
    key: Key,
    keyer: Box<dyn Keyer>,
}

impl Transmitter {
    /// Opens way and key of a plan; the transmitter is unkeyed, and a guardian holds its key.
    ///
    /// # Errors
    ///
    /// No way or no call is set; what the way or the key says; nobody can watch over it.
    pub fn open(plan: &TransmitterPlan) -> Result<Self, KeyerError> {
        if plan.call.is_none() {
            return Err(missing(
                "the call of the station",
                "set call in [transmitter]",
            ));
        }
        let way = plan.way();
        let way = way.ok_or_else(|| missing("a transmitter", "set way in [transmitter]"))?;
        if plan.key.is_none() {
            return Err(missing(
                "the key of the transmitter",
                "set key in [transmitter]",
            ));
        }
        Self::with(plan, &way)
    }

    fn with(plan: &TransmitterPlan, way: &Way) -> Result<Self, KeyerError> {
        let own = matches!(plan.key(), KeyWords::Wire(_, None));
        let (keyer, beside, opening): (Box<dyn Keyer>, _, _) = match way {
            Way::Timed(timed) => {
                let keyer = TimedKeyer::open(timed)?;
                let beside = if own { keyer.beside()? } else { None };
                let opening = keyer.opening().cloned();
                (Box::new(keyer), beside, opening)
            }
            Way::Serial(serial) => {
                let keyer = SerialKeyer::open(serial)?;
                let beside = if own { keyer.beside()? } else { None };
                let opening = keyer.opening().cloned();
                (Box::new(keyer), beside, opening)
            }
            other => (other.open()?, None, None),
        };
        let sounds = matches!(way, Way::Sound { .. });
        let key = Key::open(plan, beside)?;
        let openings: Vec<_> = opening.into_iter().chain(key.opening().cloned()).collect();
        let mut transmitter = Transmitter {
            key,
            plan: plan.clone(),
            clocked: true,
            sounds,
            cable: Cable::of(plan, &openings),
            keyer,
        };
        transmitter.sound(false)?;
        check_unkeyed(plan)?;
        Ok(transmitter)
    }

    /// A transmitter that somebody else keys, on any line that goes by the clock.
    pub fn on_line(plan: &TransmitterPlan, keyer: Box<dyn Keyer>) -> Self {
        Transmitter {
            key: Key::none(),
            plan: plan.clone(),
            clocked: true,
            sounds: false,
            cable: Cable::default(),
            keyer,
        }
    }

    /// The same line as tones in a file, or on standard output: nothing is keyed.
    ///
    /// # Errors
    ///
    /// What the file says.
    pub fn in_file(plan: &TransmitterPlan, path: Option<PathBuf>) -> Result<Self, KeyerError> {
        Ok(Transmitter {
            keyer: in_file(plan, path.as_ref())?,
            key: Key::none(),
            plan: plan.clone(),
            clocked: false,
            sounds: false,
            cable: Cable::default(),
        })
    }

    /// What opening it told of its cable.
    pub fn cable(&self) -> &Cable {
        &self.cable
    }

    /// From the next over on it sends these tones of a plan: nothing else of it changes.
    ///
    /// # Errors
    ///
    /// The way makes no tones, or not these.
    pub fn set_tones(&mut self, plan: &TransmitterPlan) -> Result<(), KeyerError> {
        if plan.tones() == self.plan.tones() {
            return Ok(());
        }
        self.keyer.tones(plan.tone_plan())?;
        let own = &mut self.plan;
        (own.lower_hz, own.shift_hz) = (plan.lower_hz, plan.shift_hz);
        (own.sideband, own.reversed) = (plan.sideband, plan.reversed);
        Ok(())
    }

    /// What turns it off at once.
    pub fn off_switch(&self) -> OffSwitch {
        self.key.off_switch()
    }

    /// Plays an over: key, wait, mark, pieces, mark, wait, unkey. Without leave nothing is
    /// keyed, and when it ends the over ends with it. A line that goes into a file needs none.
    pub fn over(&mut self, script: &mut dyn Script, arming: &Arming) -> Over {
        let mut run = Run {
            transmitter: self,
            arming,
            begun: Instant::now(),
            codes: 0,
            lasted_s: 0.0,
        };
        let result = run.play(script);
        let (codes, lasted_s) = (run.codes, run.lasted_s);
        // Unkeyed first, whatever happened; the line afterwards.
        let unkeyed = self.key.off();
        if result.is_err() {
            let _ = self.keyer.cancel();
            let _ = self.sound(false);
        }
        Over {
            ended: result.err().unwrap_or(Ended::Whole),
            unkeyed,
            codes,
            lasted_s,
        }
    }

    /// Tones on or off, where the line is heard.
    fn sound(&mut self, on: bool) -> Result<(), KeyerError> {
        match self.sounds {
            true => self.keyer.motor(on),
            false => Ok(()),
        }
    }
}

fn missing(what: &str, remedy: &str) -> KeyerError {
    KeyerError::Missing {
        what: what.into(),
        remedy: remedy.into(),
    }
}

impl From<KeyerError> for Ended {
    fn from(error: KeyerError) -> Self {
        match error {
            KeyerError::TurnedOff => Ended::TurnedOff,
            error => Ended::Failed(error),
        }
    }
}

/// An over that is being played.
struct Run<'a> {
    transmitter: &'a mut Transmitter,
    arming: &'a Arming,
    begun: Instant,
    codes: u64,
    lasted_s: f64,
}

impl Run<'_> {
    fn play(&mut self, script: &mut dyn Script) -> Result<(), Ended> {
        self.may_go_on()?;
        let plan = self.transmitter.plan.clone();
        self.transmitter.key.on()?;
        self.wait(plan.wait_on_s)?;
        self.transmitter.sound(true)?;
        self.mark(plan.mark_on_s)?;
        let begin_s = self.lasted_s;
        loop {
            match script.next(self.lasted_s - begin_s) {
                Piece::End => break,
                piece => self.piece(piece)?,
            }
        }
        self.mark(plan.mark_off_s)?;
        self.may_go_on()?;
        self.transmitter.keyer.finish()?;
        self.transmitter.sound(false)?;
        self.wait(plan.wait_off_s)
    }

    fn piece(&mut self, piece: Piece) -> Result<(), Ended> {
        let speed = self.transmitter.plan.speed();
        match piece {
            Piece::Code(code) => {
                self.may_go_on()?;
                self.transmitter.keyer.send(code)?;
                self.codes += 1;
                self.lasted_s += speed.character_s();
            }
            Piece::Mark(seconds) => self.mark(seconds)?,
            Piece::Line(stretches) => {
                self.may_go_on()?;
                self.transmitter.keyer.line(&stretches)?;
                self.lasted_s += stretches.iter().map(|s| s.length_s).sum::<f64>();
            }
            Piece::End => {}
        }
        Ok(())
    }

    /// Holds mark, and looks now and then at whether it may go on.
    fn mark(&mut self, seconds: f64) -> Result<(), Ended> {
        let mut left_s = seconds;
        while left_s > 0.0 {
            self.may_go_on()?;
            let piece_s = left_s.min(PIECE_S);
            self.transmitter.keyer.hold(piece_s)?;
            self.lasted_s += piece_s;
            left_s -= piece_s;
        }
        Ok(())
    }

    /// Waits with nothing on the line; a file waits for nobody.
    fn wait(&mut self, seconds: f64) -> Result<(), Ended> {
        if !self.transmitter.clocked {
            return Ok(());
        }
        let until = Instant::now() + Duration::from_secs_f64(seconds);
        loop {
            self.may_go_on()?;
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Ok(());
            }
            std::thread::sleep(left.min(Duration::from_secs_f64(PIECE_S)));
        }
    }

    fn may_go_on(&self) -> Result<(), Ended> {
        if self.transmitter.clocked && self.arming.left().is_none() {
            return Err(Ended::Disarmed);
        }
        let passed_s = match self.transmitter.clocked {
            true => self.begun.elapsed().as_secs_f64(),
            false => self.lasted_s,
        };
        if passed_s > self.transmitter.plan.longest_over_s {
            return Err(Ended::TooLong);
        }
        Ok(self.transmitter.key.go_on()?)
    }
}

#[cfg(test)]
#[path = "transmitter_tests.rs"]
mod tests;
