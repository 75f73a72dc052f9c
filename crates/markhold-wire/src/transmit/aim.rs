//! Whose tones an over has: the transmitter's own, or exactly those of a pair that is received.
//!
//! A received pair can be met only where transmitter and receiver stand on the same dial and the
//! same sideband, as they do in one set; then the same audio is the same radio frequency.

use super::plan::TransmitterPlan;
use super::tones_from::SHIFT_HZ;
use markhold_code::Tones;

impl TransmitterPlan {
    /// The same with exactly these tones.
    pub fn on(&self, tones: Tones) -> Self {
        TransmitterPlan {
            lower_hz: tones.lower_hz(),
            shift_hz: tones.shift_hz(),
            reversed: tones.sense() != self.usual_sense(),
            ..self.clone()
        }
    }

    /// Whether exactly these tones can be sent.
    ///
    /// # Errors
    ///
    /// The way has no tones, or they lie outside of what the transmitter carries; in words.
    pub fn check_tones(&self, tones: Tones) -> Result<(), String> {
        self.check_has_tones()?;
        let (least, most) = SHIFT_HZ;
        if !(least..=most).contains(&tones.shift_hz()) {
            return Err(format!(
                "the tones are {:.1} Hz apart, expected {least} to {most}",
                tones.shift_hz()
            ));
        }
        let (from, to) = (self.audio_from_hz, self.audio_to_hz);
        if tones.lower_hz() < from || tones.higher_hz() > to {
            return Err(format!(
                "tones of {:.0} and {:.0} Hz are beyond what the transmitter carries, {from:.0} to \
                 {to:.0} Hz (audio_from_hz, audio_to_hz in [transmitter]): turn the dial until the \
                 pair lies in it",
                tones.lower_hz(),
                tones.higher_hz()
            ));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::Sense;
    use toml::Table;

    fn plan(keys: &str) -> TransmitterPlan {
        let settings = format!("[transmitter]\n{keys}");
        TransmitterPlan::of_settings(&settings, Table::new()).unwrap()
    }

    /// Whatever sideband it is on: the same audio is the same radio frequency.
    #[test]
    fn tones_are_taken_as_they_are() {
        for (mark_hz, space_hz) in [(1483.2, 1653.7), (1653.7, 1483.2)] {
            for side in ["lower", "upper"] {
                let own = plan(&format!("sideband = \"{side}\"\nreversed = true"));
                let found = own.on(Tones { mark_hz, space_hz }).tones();
                let off = (found.mark_hz - mark_hz).abs() + (found.space_hz - space_hz).abs();
                assert!(off < 1e-9, "{found:?}");
            }
        }
    }

    #[test]
    fn what_the_transmitter_does_not_carry_is_told() {
        let at = |lower_hz, higher_hz| Tones::of_pair(lower_hz, higher_hz, Sense::LowerTone);
        let own = plan("way = \"tones\"\naudio_from_hz = 400\naudio_to_hz = 2400");
        assert_eq!(own.check_tones(at(2125.0, 2295.0)), Ok(()));
        for (pair, said) in [
            (at(380.0, 550.0), "380 and 550 Hz are beyond"),
            (at(2240.0, 2410.0), "400 to 2400 Hz"),
            (at(500.0, 1700.0), "1200.0 Hz apart"),
        ] {
            let why = own.check_tones(pair).unwrap_err();
            assert!(why.contains(said), "{why}");
        }
        let keyed = plan("way = \"rts:/dev/ttyS0\"");
        let why = keyed.check_tones(at(2125.0, 2295.0)).unwrap_err();
        assert!(why.contains("makes its tones itself"), "{why}");
        // Practice has no way, and no transmitter that could not carry them.
        assert_eq!(plan("").check_tones(at(2125.0, 2295.0)), Ok(()));
    }
}
