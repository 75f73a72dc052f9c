//! What is tried: what keys a line, how, and how it ends.

use super::random::Random;
use std::time::Duration;

/// How a program ends, or what else goes wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// kill -9.
    Killed,
    /// kill -STOP: it lives and does nothing.
    Hung,
    Terminated,
    HungUp,
    Interrupted,
    /// The other end of the pseudo terminal is closed.
    Unplugged,
    /// kill -9 of the guardian.
    GuardianKilled,
    /// kill -STOP of the guardian.
    GuardianHung,
}

impl End {
    pub const ALL: [End; 8] = [
        End::Killed,
        End::Hung,
        End::Terminated,
        End::HungUp,
        End::Interrupted,
        End::Unplugged,
        End::GuardianKilled,
        End::GuardianHung,
    ];

    pub fn name(self) -> &'static str {
        match self {
            End::Killed => "kill -9",
            End::Hung => "hang (SIGSTOP)",
            End::Terminated => "SIGTERM",
            End::HungUp => "SIGHUP",
            End::Interrupted => "SIGINT",
            End::Unplugged => "unplugged",
            End::GuardianKilled => "guardian: kill -9",
            End::GuardianHung => "guardian: hang",
        }
    }

    /// The exit code of a program that ends by itself.
    pub fn code(self) -> Option<i32> {
        match self {
            End::Terminated => Some(143),
            End::HungUp => Some(129),
            End::Interrupted => Some(130),
            End::GuardianKilled | End::GuardianHung => Some(2),
            End::Killed | End::Hung | End::Unplugged => None,
        }
    }
}

/// What keys the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sender {
    Machine,
    Copy,
    Pattern,
}

/// What is done to the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    Rts,
    Dtr,
    Break,
    /// Words of five bits, with a divisor for their speed.
    Serial,
}

impl Way {
    pub fn word(self) -> &'static str {
        match self {
            Way::Rts => "rts",
            Way::Dtr => "dtr",
            Way::Break => "break",
            Way::Serial => "serial",
        }
    }

    /// The wire that is left for the motor.
    pub fn motor(self) -> &'static str {
        match self {
            Way::Rts => "dtr",
            _ => "rts",
        }
    }
}

#[derive(Clone, Copy, Debug)]
pub struct Try {
    pub end: End,
    pub sender: Sender,
    pub way: Way,
    /// Changes after which it ends, and how long after them.
    pub after: usize,
    pub later: Duration,
}

impl Random {
    fn of<T: Copy>(&mut self, all: &[T]) -> T {
        all[self.below(all.len() as u64) as usize]
    }
}

impl Try {
    pub fn random(end: End, random: &mut Random) -> Self {
        let sender = random.of(&[
            Sender::Machine,
            Sender::Machine,
            Sender::Copy,
            Sender::Pattern,
        ]);
        Try {
            end,
            sender,
            way: random.of(&[Way::Rts, Way::Dtr, Way::Break, Way::Serial]),
            after: 3 + random.below(12) as usize,
            later: Duration::from_micros(random.below(150_000)),
        }
    }
}
