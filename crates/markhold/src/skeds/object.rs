//! Skeds as objects, one a line.
//!
//! | type | what it is |
//! |---|---|
//! | `sked` | a sked: its number, and what `markhold-skeds` writes of it with the version of that form |
//! | `due` | a transmission at one time, and where to set the dial |
//! | `run` | what became of one at one time |
//! | `known` | what one sends, as far as it is known by all that was kept of it |
//! | `heard` | how much too high the dial read |
//! | `dial` | where the dial stands, and what is known of it |
//! | `left` | something of a calendar file that could not be kept |

use markhold_skeds::Sked;
use markhold_skeds::learned::{Stands, ToldBy};
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
        /// How it stands with its paper; null where none is wanted.
        paper: Option<String>,
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
    Dial {
        /// Where it stands; null where that is not known.
        stands: Option<StandsObject>,
        bands: Vec<BandObject>,
        /// How the receiver warms up; null where no evening was followed from its beginning.
        warm_up: Option<WarmUpObject>,
    },
    Left {
        event: &'a str,
        what: &'a str,
    },
}

/// Where a dial stands.
#[derive(Serialize)]
pub struct StandsObject {
    /// Null where that is not known.
    pub khz: Option<f64>,
    pub since: String,
    /// When the receiver was switched on, where known.
    pub on: Option<String>,
    /// `person` or `radio`.
    pub by: &'static str,
}

impl StandsObject {
    pub fn of(stands: &Stands) -> Self {
        StandsObject {
            khz: stands.khz,
            since: stands.at.to_string(),
            on: stands.on.map(|on| on.to_string()),
            by: match stands.by {
                ToldBy::Person => "person",
                ToldBy::Radio => "radio",
            },
        }
    }
}

/// What is known of the dial on a band, at rest.
#[derive(Serialize)]
pub struct BandObject {
    /// Whole megahertz.
    pub band: u32,
    pub evenings: usize,
    /// Null if too little is known.
    pub reads_high_hz: Option<f64>,
    /// Nine times in ten it is within this of it.
    pub within_hz: Option<f64>,
}

/// How a receiver warms up: amount_hz e^(-t / constant_min) too high after t minutes.
#[derive(Serialize)]
pub struct WarmUpObject {
    pub evenings: usize,
    pub constant_min: f64,
    pub amount_hz: f64,
    pub within_hz: f64,
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
