//! What was sent from here, beside what was copied.

use serde::{Deserialize, Serialize};

/// A line that was sent from here, as it went out: what the codes print, the call that was added
/// included.
///
/// Written as `{"type":"sent","direction":"sent", ...}`; everything else is of what was received.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(tag = "type", rename = "sent")]
pub struct SentLine {
    /// Counts the lines that were sent, from 0. A line that is told again has grown.
    #[serde(rename = "line")]
    pub number: u64,
    /// When its first character went out, s.
    #[serde(rename = "at")]
    pub at_s: f64,
    /// What it prints.
    pub text: String,
    /// Nothing more will be added.
    pub closed: bool,
}

impl SentLine {
    /// The same where times count from an origin `origin_s` earlier.
    pub fn placed(mut self, origin_s: f64) -> Self {
        self.at_s += origin_s;
        self
    }
}
