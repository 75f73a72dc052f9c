//! Signals and characters as JSON objects: the same wherever they are told, on standard
//! output and to the desk. Times are s, to 0.1 ms; frequencies Hz, to 0.01.

use markhold_code::Shift;
use markhold_receive::event::{Alternative, Character, Doubt, Sense, Signal, Witnesses};
use markhold_receive::settings::LanguageUse;
use serde::Serialize;

/// A character.
#[derive(Serialize)]
pub struct CharacterObject {
    signal: u32,
    start: f64,
    code: u8,
    shift: &'static str,
    glyph: Option<char>,
    probability: f64,
    alternatives: [AlternativeObject; 2],
    doubt: Option<&'static str>,
    language: Option<LanguageObject>,
}

/// What language had to do with a character: the probability of the code of `both` by the
/// signal alone, whether `signal` and `both` differ, and that the word is prose.
#[derive(Serialize)]
struct LanguageObject {
    from_signal: f64,
    changed: bool,
    prose: f64,
    signal: AlternativeObject,
    both: AlternativeObject,
}

#[derive(Serialize)]
struct AlternativeObject {
    code: u8,
    glyph: Option<char>,
    probability: f64,
}

/// A signal, as known when it was told.
#[derive(Serialize)]
pub struct SignalObject {
    signal: u32,
    begin: f64,
    until: f64,
    mark_hz: f64,
    space_hz: f64,
    shift_hz: f64,
    usual_shift_hz: Option<f64>,
    rate_baud: f64,
    usual_rate_baud: Option<f64>,
    mark: &'static str,
    stop_units: Option<f64>,
    es_n0_db: f64,
    snr_3khz_db: f64,
    drift_hz: f64,
    drift_hz_per_min: f64,
}

/// Rounds for print. What is no number stays so and becomes null.
pub fn rounded(number: f64, digits: i32) -> f64 {
    let scale = 10f64.powi(digits);
    (number * scale).round() / scale
}

impl From<&Signal> for SignalObject {
    fn from(signal: &Signal) -> Self {
        SignalObject {
            signal: signal.id.0,
            begin: rounded(signal.begin_s, 4),
            until: rounded(signal.until_s, 4),
            mark_hz: rounded(signal.mark_hz, 2),
            space_hz: rounded(signal.space_hz, 2),
            shift_hz: rounded(signal.shift_hz, 2),
            usual_shift_hz: signal.usual_shift_hz,
            rate_baud: rounded(signal.rate_baud, 3),
            usual_rate_baud: signal.usual_rate_baud.map(|rate| rounded(rate, 3)),
            mark: sense(signal.sense),
            stop_units: signal.stop_units.map(|units| rounded(units, 2)),
            es_n0_db: rounded(signal.es_n0_db, 1),
            snr_3khz_db: rounded(signal.snr_3khz_db, 1),
            drift_hz: rounded(signal.drift_hz, 2),
            drift_hz_per_min: rounded(signal.drift_hz_per_min, 2),
        }
    }
}

impl From<&Alternative> for AlternativeObject {
    fn from(alternative: &Alternative) -> Self {
        AlternativeObject {
            code: alternative.code.value(),
            glyph: alternative.symbol.text(),
            probability: rounded(f64::from(alternative.probability), 5),
        }
    }
}

impl From<&Witnesses> for LanguageObject {
    fn from(witnesses: &Witnesses) -> Self {
        LanguageObject {
            from_signal: rounded(f64::from(witnesses.from_signal), 5),
            changed: witnesses.differ(),
            prose: rounded(f64::from(witnesses.prose), 3),
            signal: (&witnesses.signal).into(),
            both: (&witnesses.both).into(),
        }
    }
}

impl From<&Character> for CharacterObject {
    fn from(character: &Character) -> Self {
        let [first, second] = &character.alternatives;
        CharacterObject {
            signal: character.signal.0,
            start: rounded(character.start_s, 4),
            code: character.code.value(),
            shift: match character.shift {
                Shift::Letters => "letters",
                Shift::Figures => "figures",
            },
            glyph: character.symbol.text(),
            probability: rounded(f64::from(character.probability), 5),
            alternatives: [first.into(), second.into()],
            doubt: character.doubt.map(doubt),
            language: character.witnesses.as_ref().map(Into::into),
        }
    }
}

/// The word for which tone is mark.
pub fn sense(sense: Sense) -> &'static str {
    match sense {
        Sense::LowerTone => "lower",
        Sense::HigherTone => "higher",
    }
}

/// The words for what language may do.
const LANGUAGE: [(LanguageUse, &str); 3] = [
    (LanguageUse::Off, "off"),
    (LanguageUse::Mark, "mark"),
    (LanguageUse::On, "on"),
];

/// The word for what language may do.
pub fn language(language: LanguageUse) -> &'static str {
    let found = LANGUAGE.iter().find(|(known, _)| *known == language);
    found.map_or("on", |(_, word)| word)
}

/// What language may do, by its word; `None` for another word.
pub fn language_named(word: &str) -> Option<LanguageUse> {
    let found = LANGUAGE.iter().find(|(_, known)| *known == word);
    found.map(|(language, _)| *language)
}

/// The word for a cause of doubt.
pub fn doubt(doubt: Doubt) -> &'static str {
    match doubt {
        Doubt::FadeOfOneTone => "fade-of-one-tone",
        Doubt::Fade => "fade",
        Doubt::Crash => "crash",
        Doubt::Neighbour => "neighbour",
        Doubt::Gain => "gain",
        Doubt::Drift => "drift",
        Doubt::Timing => "timing",
        Doubt::ShiftLost => "shift-lost",
    }
}
