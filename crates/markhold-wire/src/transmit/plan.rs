//! How a transmitter is fed and keyed, as the settings file has it.
//!
//! ```toml
//! [transmitter]
//! call = "Q1ABC"
//! way = "tones:USB Audio"
//! key = "rigctld:127.0.0.1:4532"
//! sideband = "lower"
//! ```

use super::identity::is_call;
use super::key_words::KeyWords;
use super::morse::dot_s;
use super::tones_from::{SHIFT_HZ, TonesFrom};
use crate::play::{Tones, WayWords};
use crate::settings_table::{row, some_words, table_of};
use crate::{KeyWire, Way, Word};
use markhold_code::{FiguresRow, Sense, StartStop};
use markhold_page::{Fill, LineEnding, Machine};
use markhold_signal::{Course, TonePlan};
use markhold_sound::Sideband;
use serde::Deserialize;
use toml::Table;

/// The step from tone to tone, elements: a raised cosine this long leaves -75 dB in 250 Hz at
/// 500 Hz from the middle of 45.45 baud and 170 Hz, and costs a correlator 0.05 dB
/// (checks/check_send.py measures both).
const STEP_ELEMENTS: f64 = 0.4;

/// Shortest time between the key and what is sent, s: a relay takes 10 to 20 ms (common
/// practice).
const LEAST_WAIT_S: f64 = 0.02;

/// Mark before the text, s. A person tunes by it, and so does a receiver: in a little noise
/// `markhold copy` found all of six texts of 3 to 6 s with it, and with a second hardly any.
const MARK_ON_S: f64 = 2.0;

/// What is sent while there is nothing to send.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Idle {
    /// Nothing: mark.
    None,
    /// Letters shifts.
    Letters,
    /// Blanks.
    Blank,
}

/// A transmitter: what it is fed with, how it is keyed, and what is sent with it. Every key of
/// its table is optional and has the name of the field here.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct TransmitterPlan {
    // Whose it is and how it is reached.
    /// The station's call; without one nothing is sent.
    pub call: Option<String>,
    /// The way to the air, as to a machine: `tones`, `serial:PORT`, `rts:PORT` ..
    #[serde(deserialize_with = "some_words")]
    pub way: Option<WayWords>,
    /// How it is keyed; `None` = nobody has said so, and nothing is sent.
    #[serde(deserialize_with = "some_words")]
    pub key: Option<KeyWords>,
    /// The command that keys it, its program first.
    pub key_on: Vec<String>,
    /// The command that unkeys it.
    pub key_off: Vec<String>,
    /// A daemon that knows whether the radio transmits, whatever keys it: it is asked before
    /// anything is keyed.
    #[serde(deserialize_with = "some_words")]
    pub ask: Option<KeyWords>,
    /// The port's inputs are wired to its outputs, and that is known.
    pub wired_back: bool,

    // The line.
    /// Modulation rate, baud, 30 to 300.
    pub rate_baud: f64,
    /// Stop element, units, 1 to 3.
    pub stop_units: f64,
    /// Polarity of a wire that keys the line: `true` = asserted is mark.
    pub inverted: bool,

    // The tones.
    /// Whose tones go out.
    pub tones: TonesFrom,
    /// The lower of the two own tones, Hz.
    pub lower_hz: f64,
    /// Their distance, Hz.
    pub shift_hz: f64,
    /// The sideband that carries them.
    pub sideband: Sideband,
    /// Mark is the lower radio frequency; usually it is the higher one (common practice).
    pub reversed: bool,
    /// Peak amplitude, above 0 to 1 = full scale.
    pub level: f64,
    /// The lowest audio that the transmitter carries, Hz.
    pub audio_from_hz: f64,
    /// The highest audio that the transmitter carries, Hz.
    pub audio_to_hz: f64,

    // The text.
    /// The figures row: us or ita2.
    #[serde(deserialize_with = "row")]
    pub figures: FiguresRow,
    /// Longest line, characters, 20 to 200.
    pub columns: u16,
    /// What ends a line.
    pub line_end: String,
    /// The figures shift is sent again after a space, for receivers that unshift on space.
    pub shift_after_space: bool,
    /// What is sent while there is nothing to send.
    pub idle: Idle,

    // The over.
    /// From the key to mark, s.
    pub wait_on_s: f64,
    /// Mark before the first character, s.
    pub mark_on_s: f64,
    /// Mark after the last one, s.
    pub mark_off_s: f64,
    /// From the end of mark to unkeying, s.
    pub wait_off_s: f64,
    /// Longest over, s.
    pub longest_over_s: f64,

    // Identification.
    /// The call is sent at least so often, s, and at the end of every over.
    pub identify_every_s: f64,
    /// It is sent in Morse as well, at least so often, s; `None` = never.
    pub morse_every_s: Option<f64>,
    /// Speed of that, words a minute.
    pub morse_wpm: f64,
}

impl Default for TransmitterPlan {
    /// Nothing set that could send. 45.45 baud, 170 Hz, 2125 Hz and 1.5 units are usual
    /// (common practice), and so is an identification every ten minutes; your rules come first.
    fn default() -> Self {
        TransmitterPlan {
            call: None,
            way: None,
            key: None,
            key_on: Vec::new(),
            key_off: Vec::new(),
            ask: None,
            wired_back: false,
            rate_baud: 1.0 / 0.022,
            stop_units: 1.5,
            inverted: false,
            tones: TonesFrom::Own,
            lower_hz: 2125.0,
            shift_hz: 170.0,
            sideband: Sideband::Lower,
            reversed: false,
            level: TonePlan::LEVEL,
            // What a filter for speech lets through (common practice).
            audio_from_hz: 300.0,
            audio_to_hz: 2700.0,
            figures: FiguresRow::Us,
            columns: 69,
            line_end: "CR CR LF LTRS".into(),
            shift_after_space: true,
            idle: Idle::None,
            wait_on_s: 0.2,
            mark_on_s: MARK_ON_S,
            mark_off_s: 0.5,
            wait_off_s: 0.1,
            longest_over_s: 300.0,
            identify_every_s: 600.0,
            morse_every_s: None,
            morse_wpm: 20.0,
        }
    }
}

/// What is wrong with a transmitter's settings.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("[transmitter]: {0}")]
pub struct PlanError(String);

impl TransmitterPlan {
    /// From the settings file's text, with some keys changed. Other tables are left alone.
    ///
    /// # Errors
    ///
    /// The first key that does not do, with what was found and what is expected.
    pub fn of_settings(settings: &str, changes: Table) -> Result<Self, PlanError> {
        let plan: Self = table_of(settings, "transmitter", changes).map_err(PlanError)?;
        plan.check().map_err(PlanError)?;
        Ok(plan)
    }

    /// The line's speed.
    pub fn speed(&self) -> StartStop {
        StartStop::new(self.rate_baud, self.stop_units)
    }

    /// How it is keyed; a wire of the line's own port is one of no other.
    pub fn key(&self) -> KeyWords {
        let key = self.key.clone().unwrap_or(KeyWords::ByHand);
        match (key, self.port()) {
            (KeyWords::Wire(wire, Some(port)), Some(own)) if port == own => {
                KeyWords::Wire(wire, None)
            }
            (key, _) => key,
        }
    }

    /// The usual sense: mark is the higher radio frequency (common practice). On the upper
    /// sideband that is the higher tone, on the lower one the lower.
    pub(super) fn usual_sense(&self) -> Sense {
        match self.sideband {
            Sideband::Lower => Sense::LowerTone,
            Sideband::Upper => Sense::HigherTone,
        }
    }

    /// Whether its way has tones that could be others; none has none that could not.
    pub(super) fn check_has_tones(&self) -> Result<(), String> {
        match (&self.way, self.way()) {
            (Some(words), Some(way)) if !matches!(way, Way::Sound { .. }) => Err(format!(
                "way = \"{words}\" keys a line, and the transmitter makes its tones itself: only a \
                 way with tones can take others"
            )),
            _ => Ok(()),
        }
    }

    /// Mark and space as they are made.
    pub fn tones(&self) -> markhold_code::Tones {
        let usual = self.usual_sense();
        let sense = if self.reversed { usual.other() } else { usual };
        markhold_code::Tones::of_pair(self.lower_hz, self.lower_hz + self.shift_hz, sense)
    }

    /// The tones as they are keyed.
    pub fn tone_plan(&self) -> TonePlan {
        let tones = self.tones();
        TonePlan {
            level: self.level,
            glide_s: STEP_ELEMENTS * self.speed().element_s(),
            course: Course::RaisedCosine,
            ..TonePlan::new(tones.mark_hz, tones.space_hz, self.speed())
        }
    }

    /// The way to the air; `None` = no transmitter is set.
    pub fn way(&self) -> Option<Way> {
        let wire = match self.key() {
            KeyWords::Wire(wire, None) => Some(wire),
            _ => None,
        };
        let words = self.way.as_ref()?;
        let mut way = words.way(self.speed(), wire, Tones::default(), true);
        match &mut way {
            Way::Timed(plan) => {
                plan.inverted = self.inverted;
                // A dash of Morse stays in space for three dots, and somewhat more is no hang.
                plan.longest_s = self
                    .morse_every_s
                    .map_or(0.0, |_| 4.0 * dot_s(self.morse_wpm));
            }
            Way::Sound { tones, .. } => tones.plan = self.tone_plan(),
            // Files and codes are refused, a port's words have no tones.
            Way::Serial(_) | Way::SoundFile { .. } | Way::Bytes { .. } => {}
        }
        Some(way)
    }

    /// The printer at the other end, as far as the text is laid out for it.
    pub fn printer(&self) -> Machine {
        Machine {
            columns: self.columns,
            margin_lamp: 0,
            figures: self.figures,
            lacks: String::new(),
            unshift_on_space: false,
            rate_baud: self.rate_baud,
            stop_units: self.stop_units,
            line_end: LineEnding::parse(&self.line_end).expect("checked before"),
            return_s: 0.0,
            fill: Fill::Letters,
            shift_after_space: self.shift_after_space,
            shift_after_line: true,
            bells_per_minute: 600,
            garble_stop: 0,
            doubt_mark: None,
            motor: false,
            ..Machine::default()
        }
    }

    /// Whether everything is in range and holds together.
    fn check(&self) -> Result<(), String> {
        self.check_numbers()?;
        if let Some(other) = self
            .ask
            .as_ref()
            .filter(|ask| !matches!(ask, KeyWords::Daemon(_)))
        {
            return Err(format!(
                "ask = \"{other}\": expected a radio's daemon, as rigctld:127.0.0.1:4532"
            ));
        }
        if let Some(call) = self.call.as_deref().filter(|call| !is_call(call)) {
            return Err(format!(
                "call = {call:?}: expected 3 to 16 capital letters, figures and /, with both \
                 letters and figures; write it as in your licence"
            ));
        }
        if LineEnding::parse(&self.line_end).is_none() {
            return Err(format!(
                "line_end = {:?}: expected CR, LF, LTRS, BLANK in order, with CR and LF; \
                 \"CR CR LF LTRS\" is usual",
                self.line_end
            ));
        }
        if self.key == Some(KeyWords::Command)
            && (self.key_on.is_empty() || self.key_off.is_empty())
        {
            return Err(
                "key = \"command\" without key_on and key_off: give both, as in key_off = \
                 [\"program\", \"word\"]"
                    .into(),
            );
        }
        self.check_way()
    }

    fn check_numbers(&self) -> Result<(), String> {
        let key_s = match self.key {
            None | Some(KeyWords::ByHand) => 0.0,
            _ => LEAST_WAIT_S,
        };
        let character_s = self.speed().character_s();
        let mark_s = if character_s.is_finite() {
            character_s
        } else {
            0.1
        };
        let fixed_s = self.wait_on_s + self.mark_on_s + self.mark_off_s + self.wait_off_s;
        for (key, found, least, most) in [
            ("rate_baud", self.rate_baud, 30.0, 300.0),
            ("stop_units", self.stop_units, 1.0, 3.0),
            ("lower_hz", self.lower_hz, 200.0, 4000.0),
            ("shift_hz", self.shift_hz, SHIFT_HZ.0, SHIFT_HZ.1),
            ("level", self.level, 0.001, 1.0),
            ("audio_from_hz", self.audio_from_hz, 20.0, 3000.0),
            (
                "audio_to_hz",
                self.audio_to_hz,
                self.audio_from_hz + SHIFT_HZ.0,
                20_000.0,
            ),
            ("columns", f64::from(self.columns), 20.0, 200.0),
            ("wait_on_s", self.wait_on_s, key_s, 5.0),
            // A receiver that has just come on needs a character of mark to find the first one.
            ("mark_on_s", self.mark_on_s, mark_s, 10.0),
            ("mark_off_s", self.mark_off_s, 0.0, 5.0),
            ("wait_off_s", self.wait_off_s, key_s, 5.0),
            ("longest_over_s", self.longest_over_s, fixed_s + 5.0, 3600.0),
            ("identify_every_s", self.identify_every_s, 30.0, 3600.0),
            (
                "morse_every_s",
                self.morse_every_s.unwrap_or(600.0),
                30.0,
                3600.0,
            ),
            ("morse_wpm", self.morse_wpm, 8.0, 40.0),
        ] {
            if !(least..=most).contains(&found) {
                return Err(format!(
                    "{key} = {found}: expected {least:.3} to {most}; leave it out for the usual one"
                ));
            }
        }
        Ok(())
    }

    fn check_way(&self) -> Result<(), String> {
        if self.tones == TonesFrom::Received {
            self.check_has_tones()
                .map_err(|why| format!("tones = \"received\": {why}"))?;
        }
        let morse = self.morse_every_s.is_some();
        match self.way() {
            Some(Way::Bytes { .. } | Way::SoundFile { .. }) => Err("way: a file or an interface \
                 of a machine is no way to the air; expected serial:, break:, rts:, dtr: or tones"
                .into()),
            Some(Way::Serial(_)) if morse => Err("morse_every_s with way = \"serial:\": a port \
                 that sends words cannot send Morse; leave it out, or key by the clock"
                .into()),
            Some(Way::Serial(plan)) if self.inverted || plan.word != Word::Five => Err(
                "inverted = true with way = \"serial:\": a port's words have one polarity; \
                     turn it in the cable, or key a wire by the clock"
                    .into(),
            ),
            Some(Way::Timed(plan)) if plan.motor.map(KeyWire::Control) == Some(plan.wire) => {
                Err("key and way are the same wire: the line and the key need one each".into())
            }
            way => self.check_wire(way),
        }
    }

    fn check_wire(&self, way: Option<Way>) -> Result<(), String> {
        let own = matches!(self.key(), KeyWords::Wire(_, None));
        match way {
            Some(Way::Sound { .. }) if own => {
                Err("key: a wire without its port; expected rts:PORT or dtr:PORT with tones".into())
            }
            _ => Ok(()),
        }
    }

    /// The port that keys the line.
    fn port(&self) -> Option<String> {
        let words = self.way.as_ref()?;
        match words.way(self.speed(), None, Tones::default(), true) {
            Way::Serial(plan) => Some(plan.port),
            Way::Timed(plan) => Some(plan.port),
            _ => None,
        }
    }
}

#[cfg(test)]
#[path = "plan_tests.rs"]
mod tests;
