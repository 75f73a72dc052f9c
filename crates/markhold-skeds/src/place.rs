//! A place on the earth, by degrees or by a Maidenhead locator.

use crate::SkedError;
use std::fmt;
use std::str::FromStr;

/// A place, degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Place {
    /// North of the equator, -90 to 90.
    pub latitude: f64,
    /// East of Greenwich, -180 to 180.
    pub longitude: f64,
}

/// Pairs of a locator: how many parts each divides the one before into, and its first sign
/// (IARU Region 1 VHF Managers Handbook, from memory: fields, squares, subsquares, then squares
/// and subsquares again).
const PAIRS: [(u8, u8); 5] = [(18, b'A'), (10, b'0'), (24, b'A'), (10, b'0'), (24, b'A')];

impl FromStr for Place {
    type Err = SkedError;

    /// A locator of 2 to 10 signs, which gives the middle of its rectangle, or degrees north and
    /// east with a comma between.
    fn from_str(text: &str) -> Result<Self, SkedError> {
        let wrong = || SkedError::Place(text.to_string());
        match text.split_once(',') {
            Some((north, east)) => degrees(north, east),
            None => locator(text.trim()),
        }
        .ok_or_else(wrong)
    }
}

fn degrees(north: &str, east: &str) -> Option<Place> {
    let place = Place {
        latitude: north.trim().parse().ok()?,
        longitude: east.trim().parse().ok()?,
    };
    let there = place.latitude.abs() <= 90.0 && place.longitude.abs() <= 180.0;
    there.then_some(place)
}

fn locator(text: &str) -> Option<Place> {
    let signs = text.to_ascii_uppercase().into_bytes();
    if signs.is_empty() || !signs.len().is_multiple_of(2) || signs.len() > 2 * PAIRS.len() {
        return None;
    }
    // Degrees east of 180 W and north of the south pole, and how large the rectangle is.
    let (mut east, mut north, mut width, mut height) = (0.0, 0.0, 360.0, 180.0);
    for (pair, (parts, first)) in signs.chunks_exact(2).zip(PAIRS) {
        let part = |sign: u8| sign.checked_sub(first).filter(|part| *part < parts);
        width /= f64::from(parts);
        height /= f64::from(parts);
        east += f64::from(part(pair[0])?) * width;
        north += f64::from(part(pair[1])?) * height;
    }
    Some(Place {
        latitude: north + height / 2.0 - 90.0,
        longitude: east + width / 2.0 - 180.0,
    })
}

impl Place {
    /// The locator of six signs that it lies in.
    pub fn locator(&self) -> String {
        // The north pole and the date line belong to the last rectangle.
        let mut east = ((self.longitude + 180.0) / 360.0).clamp(0.0, 1.0 - 1e-12);
        let mut north = ((self.latitude + 90.0) / 180.0).clamp(0.0, 1.0 - 1e-12);
        let mut text = String::new();
        for (parts, first) in PAIRS.into_iter().take(3) {
            for share in [&mut east, &mut north] {
                let scaled = *share * f64::from(parts);
                text.push(char::from(first + scaled as u8));
                *share = scaled.fract();
            }
        }
        text
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let north = if self.latitude < 0.0 { 'S' } else { 'N' };
        let east = if self.longitude < 0.0 { 'W' } else { 'E' };
        let (latitude, longitude) = (self.latitude.abs(), self.longitude.abs());
        write!(f, "{latitude:.2} {north}, {longitude:.2} {east}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// By hand: JO59 is field J (0 to 20 E), O (50 to 60 N), square 5 (10 to 12 E), 9 (59 to 60).
    #[test]
    fn locators_by_hand() {
        for (text, latitude, longitude) in [
            ("JO59", 59.5, 11.0),
            ("jo59", 59.5, 11.0),
            ("JJ", 5.0, 10.0),
            ("AA00aa", -90.0 + 1.0 / 48.0, -180.0 + 1.0 / 24.0),
            ("RR99XX", 90.0 - 1.0 / 48.0, 180.0 - 1.0 / 24.0),
            // Squares are 2 by 1 degrees: F 4 = -80 + 8 + 1 W, N 0 = 40 + 0.5 N.
            ("FN40", 40.5, -71.0),
            ("59.5, 10.25", 59.5, 10.25),
            ("-33.9,151.2", -33.9, 151.2),
        ] {
            let place: Place = text.parse().unwrap();
            let off = (place.latitude - latitude).abs() + (place.longitude - longitude).abs();
            assert!(off < 1e-9, "{text}: {place:?}");
        }
    }

    #[test]
    fn what_is_no_place_is_said() {
        for text in [
            "",
            "J",
            "JO5",
            "SO59",
            "JO5A",
            "JO59YA",
            "91,0",
            "0,181",
            "x,y",
            "JO59aa00aa00",
            "ÄÖ",
        ] {
            let error = text.parse::<Place>().unwrap_err().to_string();
            assert!(error.contains("expected a locator"), "{text}: {error}");
        }
        assert!("NaN,0".parse::<Place>().is_err());
    }

    proptest! {
        #[test]
        fn a_locator_holds_its_place(latitude in -90.0..90.0f64, longitude in -180.0..180.0f64) {
            let place = Place { latitude, longitude };
            let middle: Place = place.locator().parse().unwrap();
            prop_assert!((middle.latitude - latitude).abs() <= 1.0 / 48.0 + 1e-9);
            prop_assert!((middle.longitude - longitude).abs() <= 1.0 / 24.0 + 1e-9);
            prop_assert_eq!(middle.locator(), place.locator());
        }
    }
}
