//! A kept line with its marks.

use crate::copy::marker::{Marker, Marking};
use markhold_shelf::KeptLine;

/// The line with its doubt, and what language changed, made visible; as it is where its details are damaged.
pub fn marked(line: &KeptLine, marker: Marker) -> String {
    let Ok(characters) = line.characters() else {
        return line.text.clone();
    };
    let mut marking = Marking::new(marker);
    let mut text = String::new();
    for character in &characters {
        if let Some(c) = character.symbol.printed() {
            marking.push(&mut text, c, character.into());
        }
    }
    marking.close(&mut text);
    text
}
