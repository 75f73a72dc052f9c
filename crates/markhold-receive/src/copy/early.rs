//! Early characters: first readings, with a gate against noise.

use markhold_signal::BandPlan;

use crate::levelled::Levelled;
use crate::pair::early::EarlyReader;
use crate::pair::follower::{Follower, Heard};

/// A character at least this probable is given out by itself,
const SURE: f32 = 0.6;
/// and those that follow it within this time, s, whatever they are: noise after the end of a
/// signal must not run on.
const PATIENCE_S: f64 = 1.0;

/// First readings of one signal.
pub struct Early {
    // derived
    reader: EarlyReader,
    // state
    sure_s: f64,
}

impl Early {
    /// First readings of a signal with a modulation rate in baud.
    pub fn new(plan: BandPlan, rate_baud: f64) -> Self {
        Self {
            reader: EarlyReader::new(plan, rate_baud),
            sure_s: f64::NEG_INFINITY,
        }
    }

    /// Reads up to `until_s` what the follower has not given out.
    pub fn advance(&mut self, follower: &Follower, sound: &Levelled, until_s: f64) -> Vec<Heard> {
        let mut heard = Vec::new();
        self.reader.advance(follower, sound, until_s, &mut heard);
        heard.retain(|h| self.passes(h));
        heard
    }

    fn passes(&mut self, heard: &Heard) -> bool {
        if heard.reading.probability() >= SURE {
            self.sure_s = heard.start_s;
        }
        heard.start_s - self.sure_s <= PATIENCE_S
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pair::testing::heard;

    fn early() -> Early {
        Early::new(BandPlan::new(8000.0), 45.45)
    }

    #[test]
    fn doubtful_characters_pass_for_a_while_after_a_sure_one() {
        let mut early = early();
        let list = [
            (1.0, 0.3),
            (1.2, 0.7),
            (1.4, 0.1),
            (2.1, 0.2),
            (2.3, 0.5),
            (2.5, 0.6),
        ];
        let passed: Vec<bool> = list
            .iter()
            .map(|(t, p)| early.passes(&heard(*t, *p)))
            .collect();
        assert_eq!(passed, [false, true, true, true, false, true]);
    }
}
