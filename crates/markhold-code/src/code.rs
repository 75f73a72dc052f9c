//! One five-unit code: which of its five elements are mark.

use crate::Format;
use std::fmt;

/// A five-unit code, 0 to 31.
///
/// Element 1 is sent first and is the **least** significant bit; a set bit is mark.
/// So `A`, 11000 on the line, has the value 3. (Source: ITU-T S.1 numbers the elements;
/// the order of bits is that of five-bit serial ports, which send the low bit first.)
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Code(u8);

impl Code {
    /// All elements space: combination 32, blank tape.
    pub const BLANK: Code = Code(0);
    /// Line feed, 01000, the same in both shifts.
    pub const LINE_FEED: Code = Code(2);
    /// Space, 00100, the same in both shifts.
    pub const SPACE: Code = Code(4);
    /// Carriage return, 00010, the same in both shifts.
    pub const CARRIAGE_RETURN: Code = Code(8);
    /// Figures shift, 11011.
    pub const FIGURES: Code = Code(27);
    /// Letters shift, 11111.
    pub const LETTERS: Code = Code(31);
    /// Elements of a code.
    pub const UNITS: usize = Format::FIVE_UNIT.data_units;
    /// How many codes there are.
    pub const COUNT: usize = Format::FIVE_UNIT.codes();
    /// Every code, in order of value: `ALL[v].value() == v`.
    pub const ALL: [Code; Code::COUNT] = {
        let mut all = [Code(0); Code::COUNT];
        let mut v = 0;
        while v < Code::COUNT {
            all[v] = Code(v as u8);
            v += 1;
        }
        all
    };

    /// The code with this value, or `None` if `value` is above 31.
    pub const fn new(value: u8) -> Option<Code> {
        if (value as usize) < Code::COUNT {
            Some(Code(value))
        } else {
            None
        }
    }

    /// The value, 0 to 31.
    pub const fn value(self) -> u8 {
        self.0
    }

    /// The code made of these elements in the order they are sent, `true` = mark.
    pub const fn from_elements(elements: [bool; Code::UNITS]) -> Code {
        let mut value = 0;
        let mut k = 0;
        while k < Code::UNITS {
            value |= (elements[k] as u8) << k;
            k += 1;
        }
        Code(value)
    }

    /// The elements in the order they are sent, `true` = mark.
    pub const fn elements(self) -> [bool; Code::UNITS] {
        let mut elements = [false; Code::UNITS];
        let mut k = 0;
        while k < Code::UNITS {
            elements[k] = self.is_mark(k);
            k += 1;
        }
        elements
    }

    /// Whether element `k` is mark; `k` counts from 0 in the order sent.
    ///
    /// From `k` = 5 on it is always `true`: what follows the fifth element is the stop
    /// element, which is mark.
    pub const fn is_mark(self, k: usize) -> bool {
        k >= Code::UNITS || (self.0 >> k) & 1 == 1
    }

    /// Whether this is the letters or the figures shift.
    pub const fn is_shift(self) -> bool {
        self.0 == Self::LETTERS.0 || self.0 == Self::FIGURES.0
    }

    /// In how many of their five elements two codes differ, 0 to 5.
    pub const fn distance(self, other: Code) -> u32 {
        (self.0 ^ other.0).count_ones()
    }
}

impl fmt::Debug for Code {
    /// The elements in the order sent, 1 = mark: `Code(11000)` is A.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Code({self})")
    }
}

impl fmt::Display for Code {
    /// The elements in the order sent, 1 = mark.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for mark in self.elements() {
            f.write_str(if mark { "1" } else { "0" })?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_is_11000_and_three() {
        let a = Code::from_elements([true, true, false, false, false]);
        assert_eq!(a.value(), 3);
        assert_eq!(a.to_string(), "11000");
    }

    #[test]
    fn only_32_codes_exist() {
        assert_eq!(Code::new(31), Some(Code::LETTERS));
        assert_eq!(Code::new(32), None);
    }

    #[test]
    fn elements_give_the_code_back() {
        for (value, code) in Code::ALL.into_iter().enumerate() {
            assert_eq!(usize::from(code.value()), value);
            assert_eq!(Code::from_elements(code.elements()), code);
            assert_eq!(Code::new(code.value()), Some(code));
        }
    }

    #[test]
    fn the_element_after_the_fifth_is_the_stop_element() {
        assert!(Code::BLANK.is_mark(5));
        assert!(!Code::BLANK.is_mark(4));
    }
}
