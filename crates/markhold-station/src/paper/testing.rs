//! Made-up events for tests.

#[path = "../../../markhold-shelf/tests/common/characters.rs"]
mod made_up;

use markhold_event::{Character, Sense, Signal, SignalId};

/// A sure character of this signal.
pub fn character(id: u32, start_s: f64, c: char) -> Character {
    made_up::character(id, start_s, c, false)
}

/// A signal of this name.
pub fn signal(id: u32) -> Signal {
    Signal {
        id: SignalId(id),
        begin_s: 0.0,
        until_s: 60.0,
        mark_hz: 2125.0,
        space_hz: 2295.0,
        shift_hz: 170.0,
        usual_shift_hz: Some(170.0),
        rate_baud: 45.45,
        usual_rate_baud: Some(1.0 / 0.022),
        sense: Sense::LowerTone,
        stop_units: None,
        figures_row: None,
        unshift_on_space: None,
        es_n0_db: 20.0,
        snr_3khz_db: 1.8,
        drift_hz: 0.0,
        drift_hz_per_min: 0.0,
    }
}
