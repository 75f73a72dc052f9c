//! How the live path's types are written as JSON. Names and rounding are those of
//! `markhold copy --json`.

use markhold_code::{FiguresRow, Shift};
use markhold_receive::event::{Alternative, Character, Doubt, Event, Sense, Signal};
use serde::{Serialize, Serializer};

/// Rounds for print. What is no number stays so and becomes null.
fn rounded(number: f64, digits: i32) -> f64 {
    let scale = 10f64.powi(digits);
    (number * scale).round() / scale
}

/// `Option<Sense>` as "lower", "higher" or null.
pub mod sense {
    use super::*;
    use serde::{Deserialize, Deserializer, de::Error};

    /// The word for a sense.
    pub fn word(sense: Sense) -> &'static str {
        match sense {
            Sense::LowerTone => "lower",
            Sense::HigherTone => "higher",
        }
    }

    pub fn serialize<S: Serializer>(sense: &Option<Sense>, to: S) -> Result<S::Ok, S::Error> {
        sense.map(word).serialize(to)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Option<Sense>, D::Error> {
        match Option::<String>::deserialize(from)?.as_deref() {
            None => Ok(None),
            Some("lower") => Ok(Some(Sense::LowerTone)),
            Some("higher") => Ok(Some(Sense::HigherTone)),
            Some(other) => Err(D::Error::custom(format!(
                "which tone is mark is given as \"{other}\"; give \"lower\" or \"higher\""
            ))),
        }
    }
}

/// `FiguresRow` as "ITA2" or "US".
pub mod row {
    use super::*;
    use serde::{Deserialize, Deserializer, de::Error};

    pub fn serialize<S: Serializer>(row: &FiguresRow, to: S) -> Result<S::Ok, S::Error> {
        to.collect_str(row)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<FiguresRow, D::Error> {
        let word = String::deserialize(from)?;
        [FiguresRow::Ita2, FiguresRow::Us]
            .into_iter()
            .find(|row| row.to_string().eq_ignore_ascii_case(&word))
            .ok_or_else(|| {
                D::Error::custom(format!("figures row \"{word}\"; give \"ITA2\" or \"US\""))
            })
    }
}

/// A time on the clock as text of RFC 3339.
pub fn timestamp<S: Serializer>(at: &jiff::Timestamp, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(at)
}

#[derive(Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
enum EventObject {
    Signal(SignalObject),
    Early(CharacterObject),
    Character(CharacterObject),
    End(SignalObject),
}

/// An event as one object with its `type`: "signal", "early", "character", "end".
pub fn event<S: Serializer>(event: &Event, to: S) -> Result<S::Ok, S::Error> {
    match event {
        Event::Found(signal) => EventObject::Signal(signal.into()),
        Event::Early(character) => EventObject::Early(character.into()),
        Event::Character(character) => EventObject::Character(character.into()),
        Event::Ended(signal) => EventObject::End(signal.into()),
    }
    .serialize(to)
}

/// A signal as an object.
pub fn signal<S: Serializer>(signal: &Signal, to: S) -> Result<S::Ok, S::Error> {
    SignalObject::from(signal).serialize(to)
}

/// Signals as a list of objects.
pub fn signals<'a, S: Serializer>(
    signals: impl IntoIterator<Item = &'a Signal>,
    to: S,
) -> Result<S::Ok, S::Error> {
    to.collect_seq(signals.into_iter().map(SignalObject::from))
}

/// Characters as a list of objects.
pub fn characters<'a, S: Serializer>(
    characters: impl IntoIterator<Item = &'a Character>,
    to: S,
) -> Result<S::Ok, S::Error> {
    to.collect_seq(characters.into_iter().map(CharacterObject::from))
}

#[derive(Serialize)]
struct SignalObject {
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
            mark: sense::word(signal.sense),
            stop_units: signal.stop_units.map(|units| rounded(units, 2)),
            es_n0_db: rounded(signal.es_n0_db, 1),
            snr_3khz_db: rounded(signal.snr_3khz_db, 1),
            drift_hz: rounded(signal.drift_hz, 2),
            drift_hz_per_min: rounded(signal.drift_hz_per_min, 2),
        }
    }
}

#[derive(Serialize)]
struct CharacterObject {
    signal: u32,
    start: f64,
    code: u8,
    shift: &'static str,
    glyph: Option<char>,
    probability: f64,
    alternatives: [AlternativeObject; 2],
    doubt: Option<&'static str>,
}

#[derive(Serialize)]
struct AlternativeObject {
    code: u8,
    glyph: Option<char>,
    probability: f64,
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
        }
    }
}

/// The word for a cause of doubt.
fn doubt(doubt: Doubt) -> &'static str {
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
