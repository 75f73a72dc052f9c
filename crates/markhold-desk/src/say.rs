//! What desk and browser say to each other, apart from pictures.

use crate::sheet::{Above, Changed, Place};
use crate::warm::Drifted;
use markhold_station::answering::{AnswerState, Hand};
use markhold_station::inputs::InputChoice;
use markhold_station::machines::Listing;
use markhold_station::practice::Turned;
use markhold_station::report::PaperState;
use markhold_station::{Report, Snapshot, Wish};
use serde::{Deserialize, Serialize};

/// One station of the practice band, for who looks for it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OnTheAir {
    /// Its call sign.
    pub call: &'static str,
    /// What it is.
    pub what: &'static str,
    /// Where the dial stands on the lower sideband for its usual tones, Hz.
    pub dial_hz: f64,
}

/// Everybody on the practice band.
pub fn on_the_air() -> Vec<OnTheAir> {
    let station = |s: &markhold_air::practice::PracticeStation| OnTheAir {
        call: s.call,
        what: s.what,
        dial_hz: s.usual_dial_hz(),
    };
    markhold_air::practice::stations()
        .iter()
        .map(station)
        .collect()
}

/// Everything so far, for a page that opens: of the characters only the last and what is drawn of the others.
/// They stand on the sheet, which is told by itself.
#[derive(Debug, Serialize)]
pub struct Opening<'a> {
    #[serde(flatten)]
    sum: &'a Snapshot,
    /// Start, s, and probability of the characters of late.
    strip: Vec<[f64; 2]>,
}

impl<'a> Opening<'a> {
    /// Of this sum, whose characters are taken from it.
    pub fn of(sum: &'a mut Snapshot) -> Self {
        let strip = sum.sheet.iter();
        // A thousandth is more than a stroke shows.
        let short = |value: f64| (value * 1e3).round() / 1e3;
        let strip = strip.map(|c| [short(c.start_s), short(c.probability.into())]);
        let strip = strip.collect();
        let last = sum.sheet.pop_back();
        sum.sheet = last.into_iter().collect();
        sum.early.clear();
        Opening { sum, strip }
    }
}

/// What the desk says: `{"is": ..., "value": ...}`.
#[derive(Debug, Serialize)]
#[serde(tag = "is", content = "value", rename_all = "kebab-case")]
pub enum Say<'a> {
    /// Everything so far; the page begins anew with it.
    Snapshot(&'a Opening<'a>),
    /// What was told just now.
    Report(&'a Report),
    /// How the receiver drifts.
    Drift(&'a Drifted),
    /// How the practice receiver stands.
    Practice(Turned),
    /// Who is on the practice band.
    Stations(Vec<OnTheAir>),
    /// What may be listened to, and what is.
    Inputs {
        /// All inputs.
        all: Vec<InputChoice>,
        /// The id of the one listened to.
        now: String,
        /// Where the evening is kept, in words.
        kept: Option<String>,
    },
    /// What changed on the sheet, or the latest of it.
    Sheet(&'a Changed),
    /// What stands above a place of the sheet.
    Above(&'a Above),
    /// What may be printed on.
    Machines(Listing),
    /// How printing stands.
    Printing(&'a PaperState),
    /// How answering stands.
    Answering(&'a AnswerState),
    /// Which hand this page is.
    Hand(Hand),
    /// Whether the local network is let in too; then the page travels unencrypted.
    Shared(bool),
    /// So many keys were forgotten.
    Forgotten(usize),
    /// A wish could not be granted; why, in words.
    Cannot(String),
    /// The desk is alive: once a second, whatever else there is to say.
    Beat {
        /// For how long no sound was taken in, s.
        still_s: f64,
    },
}

impl Say<'_> {
    /// As JSON.
    pub fn json(&self) -> String {
        // No map with keys that are no text, nothing that refuses: this cannot fail.
        serde_json::to_string(self).unwrap_or_default()
    }
}

/// What the browser asks for: `{"ask": ..., "value": ...}`.
#[derive(Clone, Debug, PartialEq)]
pub enum Ask {
    /// Something about what the page shows.
    View(View),
    /// Something for the station.
    Wish(Wish),
}

/// What the browser asks of its view.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(tag = "ask", content = "value", rename_all = "kebab-case")]
pub enum View {
    /// Pictures up to this number are painted.
    Painted(u32),
    /// List the inputs.
    Inputs,
    /// List the machines.
    Machines,
    /// Forget all keys: who came with one is out, the asker too.
    ForgetKeys,
    /// Let the received sound be heard, or no longer.
    Sound(bool),
    /// Tell what stands above this place of the sheet.
    Above(Place),
    /// Lay the sheet out like this.
    Sheet {
        /// Characters in one line.
        columns: u16,
        /// Whether a sure carriage return without a line feed prints over the line.
        overprint: bool,
    },
}

/// The asks that are [`View`]s.
const VIEWS: [&str; 7] = [
    "painted",
    "inputs",
    "machines",
    "forget-keys",
    "sound",
    "above",
    "sheet",
];

impl Ask {
    /// From what a browser sent.
    ///
    /// # Errors
    ///
    /// What is wrong with it, in words.
    pub fn of(text: &str) -> Result<Self, String> {
        let asked: serde_json::Value = serde_json::from_str(text).map_err(unknown)?;
        let is_view = asked["ask"]
            .as_str()
            .is_some_and(|ask| VIEWS.contains(&ask));
        match is_view {
            true => serde_json::from_value(asked).map(Ask::View),
            false => serde_json::from_value(asked).map(Ask::Wish),
        }
        .map_err(unknown)
    }
}

fn unknown(error: serde_json::Error) -> String {
    format!("the page asked for something unknown: {error}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_station::PrintOn;
    use markhold_station::settings::Hold;

    #[test]
    fn wishes_are_read() {
        assert_eq!(
            Ask::of(r#"{"ask":"painted","value":7}"#),
            Ok(Ask::View(View::Painted(7)))
        );
        assert_eq!(Ask::of(r#"{"ask":"inputs"}"#), Ok(Ask::View(View::Inputs)));
        assert_eq!(
            Ask::of(r#"{"ask":"forget-keys"}"#),
            Ok(Ask::View(View::ForgetKeys))
        );
        let hold = Hold {
            at_hz: Some(2210.0),
            ..Hold::default()
        };
        let text = r#"{"ask":"hold","value":{"at_hz":2210}}"#;
        assert_eq!(Ask::of(text), Ok(Ask::Wish(Wish::Hold(hold))));
        let text = r#"{"ask":"let-go"}"#;
        assert_eq!(Ask::of(text), Ok(Ask::Wish(Wish::LetGo)));
        let text = r#"{"ask":"print","value":{"machine":"shack","patience_s":2}}"#;
        let on = PrintOn {
            machine: "shack".into(),
            way: None,
            patience_s: Some(2.0),
            sent: false,
        };
        assert_eq!(Ask::of(text), Ok(Ask::Wish(Wish::Print(on))));
        assert_eq!(
            Ask::of(r#"{"ask":"stop-printing"}"#),
            Ok(Ask::Wish(Wish::StopPrinting))
        );
        assert!(Ask::of("{").is_err() && Ask::of(r#"{"ask":"practice","value":{"x":1}}"#).is_err());
    }

    #[test]
    fn answers_are_named() {
        let said = Say::Cannot("no".into()).json();
        assert_eq!(said, r#"{"is":"cannot","value":"no"}"#);
        let said = Say::Beat { still_s: 0.5 }.json();
        assert_eq!(said, r#"{"is":"beat","value":{"still_s":0.5}}"#);
        let said = Say::Snapshot(&Opening::of(&mut Snapshot::default())).json();
        assert!(said.starts_with(r#"{"is":"snapshot","value":{"until_s":0.0,"#));
        let place = Place { piece: 3, row: 17 };
        let text = r#"{"ask":"above","value":{"piece":3,"row":17}}"#;
        assert_eq!(Ask::of(text), Ok(Ask::View(View::Above(place))));
    }
}
