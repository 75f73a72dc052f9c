//! The receiver's settings as JSON: how a reading was made, and how to make it again.

use markhold_code::FiguresRow;
use markhold_receive::Settings;
use serde_json::{Value, json};

/// The settings as the archive keeps them.
pub fn settings_to_json(settings: &Settings) -> Value {
    json!({
        "at_hz": settings.at_hz,
        "shift_hz": settings.shift_hz,
        "rate_baud": settings.rate_baud,
        "mark": settings.sense.map(|sense| sense.to_string()),
        "figures": settings.figures_row.map(|row| match row {
            FiguresRow::Ita2 => "ita2",
            FiguresRow::Us => "us",
        }),
        "unshift_on_space": settings.unshift_on_space,
        "all": settings.all,
        "language": settings.language.to_string(),
        // How much the model knew; `markhold shelf learn` tells more.
        "learned_contexts": settings.learned.as_ref().map(|learned| learned.contexts()),
    })
}

/// The settings in such an object; what is missing or something else is as usual. What was
/// learned does not come back.
pub fn settings_from_json(value: &Value) -> Settings {
    Settings {
        at_hz: value["at_hz"].as_f64(),
        shift_hz: value["shift_hz"].as_f64(),
        rate_baud: value["rate_baud"].as_f64(),
        sense: value["mark"].as_str().and_then(|word| word.parse().ok()),
        figures_row: match value["figures"].as_str() {
            Some("us") => Some(FiguresRow::Us),
            Some("ita2") => Some(FiguresRow::Ita2),
            _ => None,
        },
        unshift_on_space: value["unshift_on_space"].as_bool(),
        all: value["all"].as_bool().unwrap_or(false),
        language: value["language"]
            .as_str()
            .and_then(|word| word.parse().ok())
            .unwrap_or_default(),
        ..Settings::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_event::{LanguageUse, Sense};

    #[test]
    fn settings_come_back() {
        let set = Settings {
            at_hz: Some(1500.0),
            shift_hz: Some(170.5),
            rate_baud: Some(45.45),
            sense: Some(Sense::HigherTone),
            figures_row: Some(FiguresRow::Us),
            unshift_on_space: Some(true),
            all: true,
            language: LanguageUse::Mark,
            ..Settings::default()
        };
        for settings in [set, Settings::default()] {
            assert_eq!(settings_from_json(&settings_to_json(&settings)), settings);
        }
        for other in [json!(null), json!([1]), json!({"at_hz": "high", "mark": 3})] {
            assert_eq!(settings_from_json(&other), Settings::default());
        }
    }
}
