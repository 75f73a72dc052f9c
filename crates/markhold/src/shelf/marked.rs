//! A kept line with its marks.

use crate::copy::marker::{Marker, Marking};
use markhold_shelf::{KeptLine, Traffic};

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

/// A line of either direction; what was sent begins with `> `.
pub fn either(line: &Traffic, marker: Marker) -> String {
    match line {
        Traffic::Received(line) => marked(line, marker),
        Traffic::Sent(line) => format!("> {}", line.text),
    }
}
