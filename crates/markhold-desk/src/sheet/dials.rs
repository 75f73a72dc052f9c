//! Where the dial stood, for the headings: known in practice, where the page turns it.

use markhold_sound::Sideband;
use markhold_station::practice::Turned;

/// While it is turned only where it comes to rest is remembered, s.
const AT_REST_S: f64 = 1.5;
/// So many places are remembered: more than a person turns to in an evening.
const MOST: usize = 2000;
/// A transmission begins where the dial stands so long after its first character, s: it may have been
/// turned to it just then.
const AFTER_S: f64 = 3.0;

/// Remembers the places of the dial.
#[derive(Clone, Debug, Default)]
pub struct Dials {
    // state
    /// Since when, live time, s, and where it stood, Hz.
    places: Vec<(f64, f64, Sideband)>,
}

impl Dials {
    /// It stands here since `at_s`.
    pub fn turned(&mut self, stands: &Turned, at_s: f64) {
        let (Some(hz), Some(sideband)) = (stands.dial_hz, stands.sideband) else {
            return;
        };
        match self.places.last_mut() {
            Some(last) if (last.1, last.2) == (hz, sideband) => return,
            Some(last) if at_s - last.0 < AT_REST_S => *last = (last.0, hz, sideband),
            _ => self.places.push((at_s, hz, sideband)),
        }
        let over = self.places.len().saturating_sub(MOST);
        self.places.drain(..over);
    }

    /// Where it stood for what began then, in words; `None` where nobody knows.
    pub fn at(&self, begin_s: f64) -> Option<String> {
        let before = |(at_s, ..): &&(f64, f64, Sideband)| *at_s <= begin_s + AFTER_S;
        let place = self.places.iter().rev().find(before);
        let (_, hz, sideband) = place.or(self.places.first())?;
        let sideband = match sideband {
            Sideband::Lower => "lower",
            Sideband::Upper => "upper",
        };
        Some(format!("dial {:.2} kHz, {sideband} sideband", hz / 1000.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stands(dial_hz: f64, sideband: Sideband) -> Turned {
        Turned {
            dial_hz: Some(dial_hz),
            sideband: Some(sideband),
            ..Turned::default()
        }
    }

    #[test]
    fn a_heading_has_the_place_of_its_time() {
        let mut dials = Dials::default();
        assert_eq!(dials.at(5.0), None);
        dials.turned(&stands(7_042_900.0, Sideband::Lower), 0.0);
        for k in 0..20 {
            let hz = 7_042_900.0 + 10.0 * f64::from(k);
            dials.turned(&stands(hz, Sideband::Lower), 60.0 + 0.05 * f64::from(k));
        }
        dials.turned(&stands(7_038_000.0, Sideband::Upper), 90.0);
        let at = |s| dials.at(s).expect("known");
        assert_eq!(at(1.0), "dial 7042.90 kHz, lower sideband");
        assert_eq!(at(70.0), "dial 7043.09 kHz, lower sideband");
        assert_eq!(at(88.0), "dial 7038.00 kHz, upper sideband");
    }
}
