//! Skeds as objects, one a line.
//!
//! | type | what it is |
//! |---|---|
//! | `sked` | a sked: its number, and what `markhold-skeds` writes of it with the version of that form |
//! | `due` | a transmission at one time, and where to set the dial |
//! | `run` | what became of one at one time |
//! | `known` | what one sends, as far as it is known by all that was kept of it |
//! | `heard` | how much too high the dial read |
//! | `left` | something of a calendar file that could not be kept |

use markhold_skeds::Sked;
use serde::Serialize;

/// When a sked comes next.
#[derive(Serialize)]
pub struct Next {
    pub sked: i64,
    pub at: String,
}

#[derive(Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
pub enum Object<'a> {
    Sked {
        id: i64,
        #[serde(flatten)]
        sked: &'a Sked,
    },
    Due {
        sked: i64,
        station: &'a str,
        name: &'a str,
        begins: String,
        ends: String,
        length_min: f64,
        begins_local: String,
        /// Whether it is on now.
        on: bool,
        /// Until it begins; below 0 while it is on.
        seconds: i64,
        switch_on: String,
        dial: Vec<DialObject>,
    },
    Run {
        sked: i64,
        title: &'a str,
        begins: String,
        ends: String,
        /// Open, kept or missed.
        state: &'a str,
        /// Why it was missed, or what else is to be said of it.
        cause: &'a str,
        evenings: Vec<i64>,
        characters: u64,
        doubtful: u64,
        snr_3khz_db: Option<f64>,
        drift_hz: Option<f64>,
    },
    Known {
        sked: i64,
        title: &'a str,
        #[serde(flatten)]
        known: &'a markhold_shelf::Known,
        /// The next chance: of these skeds the one that comes first, and when.
        next: Option<Next>,
    },
    Heard {
        sked: i64,
        /// Whole megahertz.
        band: u32,
        reads_high_hz: f64,
        /// Evenings that are known on this band.
        evenings: usize,
    },
    Left {
        event: &'a str,
        what: &'a str,
    },
}

/// Where to set the dial for one frequency.
#[derive(Serialize)]
pub struct DialObject {
    /// The figure as published.
    pub khz: f64,
    /// What the dial should show, to what can be read off it; null without a receiver in the
    /// settings file.
    pub set_khz: Option<f64>,
    /// The same exactly.
    pub exact_khz: Option<f64>,
    pub mark_hz: Option<f64>,
    pub space_hz: Option<f64>,
    /// How much too high the dial reads here, as learned; null if too little is known.
    pub reads_high_hz: Option<f64>,
    /// Nine times in ten it is within this of it.
    pub within_hz: Option<f64>,
    /// Evenings that was learned from.
    pub evenings: usize,
    /// The same in words; null without a receiver.
    pub known: Option<String>,
    /// How it was reckoned.
    pub sums: Vec<String>,
}
