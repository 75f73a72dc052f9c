//! Frequencies in the words of a calendar's event.

use crate::{Channel, Figure};

/// Every number that has kHz or MHz behind it, in order, each once.
pub(super) fn frequencies(text: &str) -> Vec<Channel> {
    let words: Vec<&str> = text
        .split(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | '(' | ')' | '/'))
        .filter(|word| !word.is_empty())
        .collect();
    let mut found: Vec<Channel> = Vec::new();
    for (k, word) in words.iter().enumerate() {
        let glued = word
            .find(|c: char| c.is_ascii_alphabetic())
            .map(|at| word.split_at(at));
        let (number, unit) = match (glued, words.get(k + 1)) {
            (Some(both), _) => both,
            (None, Some(next)) => (*word, *next),
            (None, None) => continue,
        };
        let factor = match unit.trim_end_matches('.').to_ascii_lowercase().as_str() {
            "khz" => 1.0,
            "mhz" => 1e3,
            _ => continue,
        };
        let Ok(value) = number.parse::<f64>() else {
            continue;
        };
        // To a hertz: what a megahertz's digits lose.
        let khz = (value * factor * 1e3).round() / 1e3;
        let known = found.iter().any(|channel| channel.khz == khz);
        if (10.0..=1e6).contains(&khz) && !known {
            found.push(Channel {
                khz,
                means: Figure::default(),
            });
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_with_a_unit_are_frequencies() {
        let khz = |text| frequencies(text).iter().map(|c| c.khz).collect::<Vec<_>>();
        assert_eq!(
            khz("7047.5 kHz, 3.597MHz (14080kHz) 3597 kHz."),
            [7047.5, 3597.0, 14080.0]
        );
        assert_eq!(
            khz("at 20:00, 45.45 baud, -3 kHz, NaN kHz, 1e99 MHz, kHz"),
            [0.0; 0]
        );
    }
}
