//! The motor: started before the first code, stopped after a rest.

use super::{Order, Ordered, Source};
use crate::machine::Machine;
use markhold_code::StartStop;

/// Mark held before the motor is stopped at the end of copy, so that the last function is
/// done, s. A revolution of the main shaft takes a character time; this is several.
const LAST_S: f64 = 1.0;

/// Switches the motor, and knows until when the line is busy.
#[derive(Clone, Debug)]
pub struct Motor {
    // Configured.
    switched: bool,
    run_up_s: f64,
    off_after_s: f64,
    speed: StartStop,
    // State.
    runs: bool,
    now_s: f64,
    /// When the last order has been played, s, if the line keeps up with the copy.
    free_s: f64,
}

impl Motor {
    pub fn new(machine: &Machine) -> Self {
        Motor {
            switched: machine.motor,
            run_up_s: machine.run_up_s,
            off_after_s: machine.motor_off_after_s,
            speed: machine.speed(),
            runs: !machine.motor,
            now_s: f64::NEG_INFINITY,
            free_s: f64::NEG_INFINITY,
        }
    }

    /// Starts it and waits for its speed; `false` if it runs.
    pub fn start(&mut self, out: &mut Vec<Ordered>) -> bool {
        if self.runs {
            return false;
        }
        self.runs = true;
        self.give(Order::Motor(true), None, out);
        self.give(Order::Hold(self.run_up_s), None, out);
        true
    }

    pub fn give(&mut self, order: Order, source: Option<Source>, out: &mut Vec<Ordered>) {
        self.free_s = self.free_s.max(self.now_s) + order.lasts_s(self.speed);
        out.push(Ordered { order, source });
    }

    /// Time passes: stops it if the line has rested long enough.
    pub fn now(&mut self, now_s: f64, out: &mut Vec<Ordered>) {
        self.now_s = self.now_s.max(now_s);
        if self.now_s - self.free_s >= self.off_after_s {
            self.stop(out);
        }
    }

    pub fn finish(&mut self, out: &mut Vec<Ordered>) {
        if self.switched && self.runs {
            self.give(Order::Hold(LAST_S), None, out);
            self.stop(out);
        }
    }

    fn stop(&mut self, out: &mut Vec<Ordered>) {
        if self.switched && self.runs {
            self.runs = false;
            self.give(Order::Motor(false), None, out);
        }
    }
}
