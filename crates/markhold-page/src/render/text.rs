//! The page as plain text.
//!
//! Overprints are kept the way a printer is told them: the first strikes of a line, then a
//! carriage return (U+000D) and everything struck over them, and so on; a line feed ends the
//! line. `A` struck over `B` in the third column is `"  B\r  A\n"`. Taking off everything
//! from the first carriage return of a line on leaves its first strikes.

use crate::page::{Page, Strike};

/// The page as text; every line ends in a line feed, no layer ends in a space.
pub fn text(page: &Page) -> String {
    let mut text = String::new();
    for line in &page.lines {
        for (k, layer) in line.layers().iter().enumerate() {
            if k > 0 {
                text.push('\r');
            }
            text.extend(layer.iter().map(shown));
        }
        text.push('\n');
    }
    text
}

fn shown(strike: &Option<Strike>) -> char {
    strike.map_or(' ', |strike| strike.character)
}
