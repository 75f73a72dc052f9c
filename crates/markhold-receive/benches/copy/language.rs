//! Cases with language: prose, which it helps, and reports, which it must leave alone.

use crate::case::{Case, Matter};
use crate::cases::{at_most, case, sender};
use markhold_air::Channel;
use markhold_receive::settings::LanguageUse;

/// Ends of the names of two cases that are the same elsewhere.
pub const WITH: &str = ", with language";
pub const WITHOUT: &str = ", without language";

/// All of them; prose without language stands beside prose with it.
pub fn cases() -> Vec<Case> {
    let mut cases = Vec::new();
    for (db, percent, ceiling) in [
        (6.0, 0.5, ""),
        (4.0, 3.0, ""),
        (3.0, 6.0, "1 % at 2.7 dB, phase followed, framing given"),
    ] {
        let prose = Case {
            ceiling,
            ..case(format!("prose, {db} dB"), db)
        };
        cases.push(of(prose, Matter::Prose, Some(percent)));
    }
    let mut faded = case("prose, two paths 1 ms 0.5 Hz, 8 dB", 8.0);
    sender(&mut faded).channel = Channel::TwoPath {
        delay_ms: 1.0,
        spread_hz: 0.5,
    };
    cases.push(of(faded, Matter::Prose, Some(5.0)));
    for db in [6.0, 4.0] {
        let reports = case(format!("calls and figures, {db} dB"), db);
        cases.push(of(reports, Matter::Reports, None));
    }
    let without = |with: &Case| Case {
        name: format!("{}{WITHOUT}", with.name),
        targets: Vec::new(),
        language: LanguageUse::Off,
        ..with.clone()
    };
    cases
        .into_iter()
        .flat_map(|with| [without(&with), named(with)])
        .collect()
}

fn of(case: Case, matter: Matter, percent: Option<f64>) -> Case {
    Case {
        targets: percent.map(at_most).unwrap_or_default(),
        matter,
        language: LanguageUse::On,
        ..case
    }
}

fn named(with: Case) -> Case {
    Case {
        name: format!("{}{WITH}", with.name),
        ..with
    }
}
