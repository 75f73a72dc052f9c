//! How signals and characters are written, for programs: on standard output, to the desk,
//! between stations. Times are s, to 0.1 ms; frequencies Hz, to 0.01.
//!
//! What was read gives the same when it is written again, and the same character as far as
//! the digits reach.

use crate::{Alternative, Character, CharacterId, Codes, Doubt, Signal, SignalId, Witnesses, word};
use markhold_code::{Code, FiguresRow, Sense, Shift, Symbol, symbol};
use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

/// A number written with so many digits after the point. What is no number is null.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Number<const DIGITS: i32>(pub f64);

/// Rounds to so many digits after the point. What is no number stays so.
pub fn rounded(number: f64, digits: i32) -> f64 {
    let scale = 10f64.powi(digits);
    (number * scale).round() / scale
}

impl<const DIGITS: i32> Serialize for Number<DIGITS> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_f64(rounded(self.0, DIGITS))
    }
}

impl<'de, const DIGITS: i32> Deserialize<'de> for Number<DIGITS> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let number = Option::<f64>::deserialize(from)?;
        Ok(Number(number.unwrap_or(f64::NAN)))
    }
}

impl<const DIGITS: i32> From<f32> for Number<DIGITS> {
    fn from(number: f32) -> Self {
        Number(f64::from(number))
    }
}

/// A code by its value, 0 to 31.
mod code_value {
    use super::*;

    pub fn serialize<S: Serializer>(code: &Code, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_u8(code.value())
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Code, D::Error> {
        let value = u8::deserialize(from)?;
        Code::new(value).ok_or_else(|| {
            D::Error::custom(format!("code {value}; five units have codes from 0 to 31"))
        })
    }
}

#[derive(Clone, Serialize, Deserialize)]
struct SignalForm {
    signal: SignalId,
    begin: Number<4>,
    until: Number<4>,
    mark_hz: Number<2>,
    space_hz: Number<2>,
    shift_hz: Number<2>,
    usual_shift_hz: Option<f64>,
    rate_baud: Number<3>,
    usual_rate_baud: Option<Number<3>>,
    #[serde(with = "word")]
    mark: Sense,
    stop_units: Option<Number<2>>,
    #[serde(default, with = "word::option")]
    figures_row: Option<FiguresRow>,
    unshift_on_space: Option<bool>,
    es_n0_db: Number<1>,
    snr_3khz_db: Number<1>,
    drift_hz: Number<2>,
    drift_hz_per_min: Number<2>,
}

impl Serialize for Signal {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        SignalForm::from(self.clone()).serialize(to)
    }
}

impl<'de> Deserialize<'de> for Signal {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        SignalForm::deserialize(from).map(Signal::from)
    }
}

impl From<Signal> for SignalForm {
    fn from(signal: Signal) -> Self {
        SignalForm {
            signal: signal.id,
            begin: Number(signal.begin_s),
            until: Number(signal.until_s),
            mark_hz: Number(signal.mark_hz),
            space_hz: Number(signal.space_hz),
            shift_hz: Number(signal.shift_hz),
            usual_shift_hz: signal.usual_shift_hz,
            rate_baud: Number(signal.rate_baud),
            usual_rate_baud: signal.usual_rate_baud.map(Number),
            mark: signal.sense,
            stop_units: signal.stop_units.map(Number),
            figures_row: signal.figures_row,
            unshift_on_space: signal.unshift_on_space,
            es_n0_db: Number(signal.es_n0_db),
            snr_3khz_db: Number(signal.snr_3khz_db),
            drift_hz: Number(signal.drift_hz),
            drift_hz_per_min: Number(signal.drift_hz_per_min),
        }
    }
}

impl From<SignalForm> for Signal {
    fn from(form: SignalForm) -> Self {
        Signal {
            id: form.signal,
            begin_s: form.begin.0,
            until_s: form.until.0,
            mark_hz: form.mark_hz.0,
            space_hz: form.space_hz.0,
            shift_hz: form.shift_hz.0,
            usual_shift_hz: form.usual_shift_hz,
            rate_baud: form.rate_baud.0,
            usual_rate_baud: form.usual_rate_baud.map(|rate| rate.0),
            sense: form.mark,
            stop_units: form.stop_units.map(|units| units.0),
            figures_row: form.figures_row,
            unshift_on_space: form.unshift_on_space,
            es_n0_db: form.es_n0_db.0,
            snr_3khz_db: form.snr_3khz_db.0,
            drift_hz: form.drift_hz.0,
            drift_hz_per_min: form.drift_hz_per_min.0,
        }
    }
}

/// A character. `id`, `present` and `codes` were added later and may be missing.
#[derive(Clone, Serialize, Deserialize)]
struct CharacterForm {
    signal: SignalId,
    id: Option<CharacterId>,
    start: Number<4>,
    #[serde(with = "code_value")]
    code: Code,
    #[serde(with = "word")]
    shift: Shift,
    glyph: Option<char>,
    probability: Number<5>,
    #[serde(default = "certain")]
    present: Number<5>,
    alternatives: [AlternativeForm; 2],
    #[serde(with = "word::option")]
    doubt: Option<Doubt>,
    language: Option<LanguageForm>,
    /// Codes and their shares by the signal alone, the likeliest first.
    codes: Option<Vec<CodeForm>>,
}

fn certain() -> Number<5> {
    Number(1.0)
}

#[derive(Clone, Copy, Serialize, Deserialize)]
struct CodeForm(#[serde(with = "code_value")] Code, Number<6>);

/// What language had to do with a character: the probability of the code of `both` by the
/// signal alone, whether `signal` and `both` differ, and that the word is prose.
#[derive(Clone, Serialize, Deserialize)]
struct LanguageForm {
    from_signal: Number<5>,
    #[serde(default)]
    changed: bool,
    prose: Number<3>,
    signal: AlternativeForm,
    both: AlternativeForm,
}

#[derive(Clone, Serialize, Deserialize)]
struct AlternativeForm {
    #[serde(with = "code_value")]
    code: Code,
    glyph: Option<char>,
    probability: Number<5>,
}

impl Serialize for Character {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        CharacterForm::from(self.clone()).serialize(to)
    }
}

impl<'de> Deserialize<'de> for Character {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let form = CharacterForm::deserialize(from)?;
        Character::try_from(form).map_err(D::Error::custom)
    }
}

impl From<Alternative> for AlternativeForm {
    fn from(alternative: Alternative) -> Self {
        AlternativeForm {
            code: alternative.code,
            glyph: alternative.symbol.text(),
            probability: alternative.probability.into(),
        }
    }
}

impl From<Witnesses> for LanguageForm {
    fn from(witnesses: Witnesses) -> Self {
        LanguageForm {
            from_signal: witnesses.from_signal.into(),
            changed: witnesses.differ(),
            prose: witnesses.prose.into(),
            signal: witnesses.signal.into(),
            both: witnesses.both.into(),
        }
    }
}

impl From<Character> for CharacterForm {
    fn from(character: Character) -> Self {
        let held = |codes: Codes| {
            let form = |(code, share): (Code, f32)| CodeForm(code, share.into());
            codes.held().into_iter().map(form).collect()
        };
        CharacterForm {
            signal: character.signal,
            id: Some(character.id),
            start: Number(character.start_s),
            code: character.code,
            shift: character.shift,
            glyph: character.symbol.text(),
            probability: character.probability.into(),
            present: character.present.into(),
            alternatives: character.alternatives.map(Into::into),
            doubt: character.doubt,
            language: character.witnesses.map(Into::into),
            codes: character.codes.map(held),
        }
    }
}

/// A glyph that the code has in no shift and no row.
#[derive(Debug)]
struct FormError {
    code: Code,
    glyph: Option<char>,
}

impl std::fmt::Display for FormError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let value = self.code.value();
        match self.glyph {
            Some(glyph) => write!(
                f,
                "code {value} with the glyph {glyph:?}, which it never has"
            ),
            None => write!(f, "code {value} without a glyph, which it always has"),
        }
    }
}

/// What a code meant that left this glyph, in the shift it is said to be in or in another.
fn meant(code: Code, glyph: Option<char>, said: Shift) -> Result<Symbol, FormError> {
    let shifts = [said, Shift::Letters, Shift::Figures];
    let rows = [FiguresRow::Ita2, FiguresRow::Us];
    let mut meanings = shifts
        .into_iter()
        .flat_map(|shift| rows.map(|row| symbol(code, shift, row)));
    meanings
        .find(|symbol| symbol.text() == glyph)
        .ok_or(FormError { code, glyph })
}

impl AlternativeForm {
    fn read(&self, shift: Shift) -> Result<Alternative, FormError> {
        Ok(Alternative {
            code: self.code,
            symbol: meant(self.code, self.glyph, shift)?,
            probability: self.probability.0 as f32,
        })
    }
}

impl LanguageForm {
    fn read(&self, shift: Shift) -> Result<Witnesses, FormError> {
        Ok(Witnesses {
            signal: self.signal.read(shift)?,
            both: self.both.read(shift)?,
            from_signal: self.from_signal.0 as f32,
            prose: self.prose.0 as f32,
        })
    }
}

impl TryFrom<CharacterForm> for Character {
    type Error = FormError;

    fn try_from(form: CharacterForm) -> Result<Self, FormError> {
        let shift = form.shift;
        let [first, second] = &form.alternatives;
        let held = |codes: Vec<CodeForm>| {
            let pair = |CodeForm(code, share): &CodeForm| (*code, share.0 as f32);
            Codes::of_held(&codes.iter().map(pair).collect::<Vec<_>>())
        };
        let language = form.language.as_ref();
        Ok(Character {
            signal: form.signal,
            id: form.id.unwrap_or(CharacterId::of_start(form.start.0)),
            start_s: form.start.0,
            code: form.code,
            shift,
            symbol: meant(form.code, form.glyph, shift)?,
            probability: form.probability.0 as f32,
            present: form.present.0 as f32,
            codes: form.codes.and_then(held),
            alternatives: [first.read(shift)?, second.read(shift)?],
            doubt: form.doubt,
            witnesses: language.map(|l| l.read(shift)).transpose()?,
        })
    }
}
