//! Values of several numbers, such as `1ms,0.5Hz`.

use markhold_air::{Carrier, Channel, Crashes, Jump, Keying, Pace, Passband, Place};

/// Numbers between commas; a unit after a number may be given and is checked.
///
/// `units` holds the unit of each place; the first `least` places must be there.
fn numbers(text: &str, units: &[&str], least: usize) -> Result<Vec<f64>, String> {
    let words: Vec<&str> = text.split(',').map(str::trim).collect();
    if words.len() < least || words.len() > units.len() {
        let wanted = if least == units.len() {
            format!("{least}")
        } else {
            format!("{least} to {}", units.len())
        };
        return Err(format!("{} numbers found, {wanted} expected", words.len()));
    }
    words
        .iter()
        .zip(units)
        .map(|(word, unit)| number(word, unit))
        .collect()
}

fn number(word: &str, unit: &str) -> Result<f64, String> {
    let bare = word.strip_suffix(unit).unwrap_or(word).trim_end();
    match bare.parse::<f64>() {
        Ok(number) if number.is_finite() => Ok(number),
        _ => Err(format!(
            "\"{word}\" is not understood, a number in {unit} is expected"
        )),
    }
}

/// Conditions of ITU-R F.1487 by name.
const CONDITIONS: [(&str, Channel); 10] = [
    ("low-latitude-quiet", Channel::LOW_LATITUDE_QUIET),
    ("low-latitude-moderate", Channel::LOW_LATITUDE_MODERATE),
    ("low-latitude-disturbed", Channel::LOW_LATITUDE_DISTURBED),
    ("mid-latitude-quiet", Channel::MID_LATITUDE_QUIET),
    ("mid-latitude-moderate", Channel::MID_LATITUDE_MODERATE),
    ("mid-latitude-disturbed", Channel::MID_LATITUDE_DISTURBED),
    (
        "mid-latitude-near-vertical",
        Channel::MID_LATITUDE_NEAR_VERTICAL,
    ),
    ("high-latitude-quiet", Channel::HIGH_LATITUDE_QUIET),
    ("high-latitude-moderate", Channel::HIGH_LATITUDE_MODERATE),
    ("high-latitude-disturbed", Channel::HIGH_LATITUDE_DISTURBED),
];

/// `1ms,0.5Hz` two paths, `0.2Hz` one path, or the name of a condition.
pub fn paths(text: &str) -> Result<Channel, String> {
    if let Some((_, channel)) = CONDITIONS.iter().find(|(name, _)| *name == text) {
        return Ok(*channel);
    }
    match numbers(text, &["ms", "Hz"], 2) {
        Ok(both) => Ok(Channel::TwoPath {
            delay_ms: both[0],
            spread_hz: both[1],
        }),
        Err(problem) if text.contains(',') => Err(problem),
        Err(_) => number(text, "Hz")
            .map(|spread_hz| Channel::Flat { spread_hz })
            .map_err(|_| {
                let names: Vec<&str> = CONDITIONS.iter().map(|(name, _)| *name).collect();
                format!(
                    "\"{text}\" is not understood, expected DELAYms,SPREADHz, or SPREADHz for one \
                 path, or one of {}",
                    names.join(", ")
                )
            }),
    }
}

/// `HZ,S`: how far an oscillator goes while it warms up, and its time constant.
pub fn warm_up(text: &str) -> Result<(f64, f64), String> {
    numbers(text, &["Hz", "s"], 2).map(|n| (n[0], n[1]))
}

/// `S,HZ`: when, and by how much.
pub fn jump(text: &str) -> Result<Jump, String> {
    numbers(text, &["s", "Hz"], 2).map(|n| Jump {
        at_s: n[0],
        by_hz: n[1],
    })
}

/// `PER_SECOND[,DB]`: how many crashes, and how much stronger than the signal.
pub fn crashes(text: &str) -> Result<Crashes, String> {
    let usual = Crashes::default();
    numbers(text, &["/s", "dB"], 1).map(|n| Crashes {
        rate_per_s: n[0],
        level_db: n.get(1).copied().unwrap_or(usual.level_db),
        ..usual
    })
}

/// `HZ[,DB[,WPM]]`: a carrier beside the pair, its strength, and Morse if it is keyed.
pub fn neighbour(text: &str) -> Result<Carrier, String> {
    numbers(text, &["Hz", "dB", "wpm"], 1).map(|n| Carrier {
        place: Place::Beside(n[0]),
        level_db: n.get(1).copied().unwrap_or(0.0),
        keying: match n.get(2) {
            Some(wpm) => Keying::Morse { wpm: *wpm },
            None => Keying::Steady,
        },
        ..Carrier::default()
    })
}

/// `LOW,HIGH` in Hz.
pub fn passband(text: &str) -> Result<Passband, String> {
    numbers(text, &["Hz", "Hz"], 2).map(|n| Passband {
        low_hz: n[0],
        high_hz: n[1],
    })
}

/// `tape`, or characters per second from a keyboard.
pub fn pace(text: &str) -> Result<Pace, String> {
    if text == "tape" {
        return Ok(Pace::Continuous);
    }
    let characters_per_second = number(text, "/s").map_err(|_| {
        format!("\"{text}\" is not understood, expected tape or characters per second")
    })?;
    Ok(Pace::Keyboard {
        characters_per_second,
        // A steady typist: see the documentation of the scatter.
        gaps: markhold_air::Gaps::LogNormal { sigma: 0.5 },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_by_numbers_and_by_name() {
        let two = Channel::TwoPath {
            delay_ms: 1.0,
            spread_hz: 0.5,
        };
        for text in [
            "1ms,0.5Hz",
            "1,0.5",
            "1 ms, 0.5 Hz",
            "mid-latitude-moderate",
        ] {
            assert_eq!(paths(text), Ok(two), "{text}");
        }
        assert_eq!(paths("0.2Hz"), Ok(Channel::Flat { spread_hz: 0.2 }));
        assert!(paths("1ms,fast").unwrap_err().contains("\"fast\""));
        assert!(
            paths("1,2,3")
                .unwrap_err()
                .contains("3 numbers found, 2 expected")
        );
        assert!(
            paths("stormy")
                .unwrap_err()
                .contains("mid-latitude-moderate")
        );
    }

    #[test]
    fn optional_numbers() {
        assert_eq!(crashes("2").unwrap().level_db, Crashes::default().level_db);
        assert_eq!(crashes("0.5,30dB").unwrap().level_db, 30.0);
        assert_eq!(neighbour("-200,10").unwrap().keying, Keying::Steady);
        assert_eq!(
            neighbour("300,0,18wpm").unwrap().keying,
            Keying::Morse { wpm: 18.0 }
        );
        for bad in ["", "nan", "inf", "1,2,3,4", "1;2"] {
            assert!(neighbour(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn paces() {
        assert_eq!(pace("tape"), Ok(Pace::Continuous));
        assert!(
            matches!(pace("3.5"), Ok(Pace::Keyboard { characters_per_second, .. })
            if characters_per_second == 3.5)
        );
        assert!(pace("slow").is_err());
    }
}
