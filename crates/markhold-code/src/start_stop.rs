//! How long elements, characters and words last.

use crate::Format;

/// A start-stop speed: modulation rate and length of the stop element.
///
/// A character is one start element, five code elements and the stop element, so
/// `6 + stop_units` units. A word is six operations: five characters and a space (US Army
/// and US Navy teletypewriter training texts). The numbers are taken as they are: the rate
/// should be above 0, or times come out infinite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StartStop {
    /// Length of the stop element in units, 1 or more; 1.42 and 1.5 are usual.
    pub stop_units: f64,
    /// Modulation rate, baud: one over the duration of one unit in seconds.
    pub rate_baud: f64,
}

impl StartStop {
    /// Units of start and code elements together.
    pub const UNITS_BEFORE_STOP: f64 = Format::FIVE_UNIT.units_before_stop() as f64;

    /// A speed from its modulation rate, baud, and its stop element, units.
    pub const fn new(rate_baud: f64, stop_units: f64) -> Self {
        Self {
            stop_units,
            rate_baud,
        }
    }

    /// Units in one character.
    pub const fn units(self) -> f64 {
        Self::UNITS_BEFORE_STOP + self.stop_units
    }

    /// Duration of one element, s.
    pub const fn element_s(self) -> f64 {
        1.0 / self.rate_baud
    }

    /// Duration of the stop element, s.
    pub const fn stop_s(self) -> f64 {
        self.stop_units / self.rate_baud
    }

    /// Duration of one character, s.
    pub const fn character_s(self) -> f64 {
        self.units() / self.rate_baud
    }

    /// Characters in one second when they follow each other without a gap.
    pub const fn characters_per_second(self) -> f64 {
        self.rate_baud / self.units()
    }

    /// Operations (characters of any kind) in one minute.
    pub const fn operations_per_minute(self) -> f64 {
        60.0 * self.characters_per_second()
    }

    /// Words of six operations in one minute, exactly; the usual names are rounded.
    pub const fn words_per_minute(self) -> f64 {
        10.0 * self.characters_per_second()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn assert_near(found: f64, expected: f64, within: f64, what: &str) {
        assert!(
            (found - expected).abs() <= within,
            "{what}: {found}, expected {expected}"
        );
    }

    /// Worked example W1: US Army teletypewriter training text, 22 ms elements and a stop
    /// element of 31 ms.
    #[test]
    fn army_worked_example() {
        let speed = StartStop::new(1.0 / 0.022, 31.0 / 22.0);
        assert_near(speed.rate_baud, 45.45, 0.005, "baud");
        assert_near(speed.stop_s(), 0.031, 1e-12, "stop");
        assert_near(speed.character_s(), 0.163, 1e-12, "character");
        assert_near(6.0 * speed.character_s(), 0.978, 1e-12, "word");
        assert_near(speed.words_per_minute(), 61.3, 0.06, "wpm");
        assert_near(speed.operations_per_minute(), 368.0, 0.15, "opm");
    }

    /// Baud, units, element ms, character ms, characters per s, opm, wpm: from
    /// `wpm = 10 baud / units` and the definition of a word in the US Army and US Navy
    /// training texts. 74.2 Bd = 100 wpm stands in the Army text itself.
    #[test]
    fn table_of_speeds() {
        let table = [
            (1.0 / 0.022, 7.42, 22.000, 163.24, 6.126, 367.6, 61.26),
            (1.0 / 0.022, 7.5, 22.000, 165.00, 6.061, 363.6, 60.61),
            (1.0 / 0.022, 7.0, 22.000, 154.00, 6.494, 389.6, 64.94),
            (1.0 / 0.022, 8.0, 22.000, 176.00, 5.682, 340.9, 56.82),
            (50.0, 7.0, 20.000, 140.00, 7.143, 428.6, 71.43),
            (50.0, 7.42, 20.000, 148.40, 6.739, 404.3, 67.39),
            (50.0, 7.5, 20.000, 150.00, 6.667, 400.0, 66.67),
            (50.0, 8.0, 20.000, 160.00, 6.250, 375.0, 62.50),
            (56.92, 7.42, 17.569, 130.36, 7.671, 460.3, 76.71),
            (74.2, 7.42, 13.477, 100.00, 10.000, 600.0, 100.00),
            (75.0, 7.42, 13.333, 98.93, 10.108, 606.5, 101.08),
            (75.0, 7.5, 13.333, 100.00, 10.000, 600.0, 100.00),
            (100.0, 7.5, 10.000, 75.00, 13.333, 800.0, 133.33),
            (100.0, 7.42, 10.000, 74.20, 13.477, 808.6, 134.77),
        ];
        for (baud, units, element_ms, character_ms, per_s, opm, wpm) in table {
            let speed = StartStop::new(baud, units - StartStop::UNITS_BEFORE_STOP);
            let row = format!("{baud} Bd, {units} units");
            assert_near(speed.units(), units, 1e-9, &row);
            assert_near(speed.element_s() * 1e3, element_ms, 0.0006, &row);
            assert_near(speed.character_s() * 1e3, character_ms, 0.006, &row);
            assert_near(speed.characters_per_second(), per_s, 0.0006, &row);
            assert_near(speed.operations_per_minute(), opm, 0.06, &row);
            assert_near(speed.words_per_minute(), wpm, 0.006, &row);
        }
    }
}
