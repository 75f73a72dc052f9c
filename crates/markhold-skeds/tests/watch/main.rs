//! A simulated week: senders that are late, overrun and overlap, restarts and a kill.
#![allow(missing_docs, reason = "tests")]

mod one;
mod week;

use jiff::Timestamp;
use jiff::tz::TimeZoneDatabase;
use markhold_skeds::watch::{Heard, Order, Run, RunState, Waits, Watch, World};
use markhold_skeds::{Sked, When};
use std::collections::BTreeMap;

const MIN: i64 = 60;

/// How often it looks, s.
const LOOK: i64 = 30;

fn at(s: i64) -> Timestamp {
    // Monday, 2 November 2026: the week after the clocks of New York changed is in it.
    Timestamp::from_second(1_793_577_600 + s).unwrap()
}

fn sked(number: i64, begins: i64, length_min: f64, shift: f64) -> Sked {
    Sked {
        station: format!("Q{number}SIM"),
        name: format!("sked {number}"),
        sends: String::new(),
        channels: vec![],
        shift_hz: Some(shift),
        rate_baud: Some(45.45),
        mark: None,
        when: When {
            zone: "UTC".into(),
            first: jiff::tz::TimeZone::UTC.to_datetime(at(begins)),
            rules: vec![],
            except: vec![],
            also: vec![],
        },
        length_min,
        place: String::new(),
        notes: String::new(),
        print_on: String::new(),
    }
}
