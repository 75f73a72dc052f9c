//! The format of a start-stop code: how many units make a character, and how many codes.

/// How the characters of a start-stop code are laid out in time. One start element and a stop
/// element of no fixed length stand around the data.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Format {
    /// Units of the start element.
    pub start_units: usize,
    /// Units that carry the code, each mark or space.
    pub data_units: usize,
    /// Whole units of mark that the shortest stop element lasts.
    pub least_stop_units: usize,
}

impl Format {
    /// Five-unit start-stop: start, five units, and a stop of one unit or more (ITU-T S.1,
    /// S.3; from memory).
    pub const FIVE_UNIT: Format = Format {
        start_units: 1,
        data_units: 5,
        least_stop_units: 1,
    };

    /// How many codes there are.
    pub const fn codes(self) -> usize {
        1 << self.data_units
    }

    /// Units before the stop element.
    pub const fn units_before_stop(self) -> usize {
        self.start_units + self.data_units
    }

    /// Units of the shortest character.
    pub const fn least_units(self) -> usize {
        self.units_before_stop() + self.least_stop_units
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Code, StartStop};

    #[test]
    fn five_units_make_32_codes_of_seven_units_and_more() {
        let five = Format::FIVE_UNIT;
        assert_eq!((five.codes(), five.least_units()), (32, 7));
        assert_eq!(Code::ALL.len(), five.codes());
        assert_eq!(
            five.units_before_stop() as f64,
            StartStop::UNITS_BEFORE_STOP
        );
    }
}
