//! How skeds went over the last weeks, for the page.

use super::Receiver;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::{KeptOf, Shelf, ShelfError};
use markhold_skeds::learned::band;
use markhold_skeds::watch::{Run, RunState};
use markhold_skeds::{Place, Sked, Went, better_band, elevation};
use serde_json::{Value, json};
use std::collections::BTreeMap;

/// How far back is looked: twelve weeks.
const BACK: SignedDuration = SignedDuration::from_hours(12 * 7 * 24);

/// The runs of each sked, and what may be said of them.
pub fn of(shelf: &Shelf, receiver: &Receiver, now: Timestamp) -> Result<Value, ShelfError> {
    let from = now.saturating_sub(BACK).unwrap_or(now);
    let skeds = shelf.skeds()?;
    let mut all = Vec::new();
    let mut by_sked: BTreeMap<i64, Vec<Value>> = BTreeMap::new();
    for run in shelf.runs(from)? {
        if run.state == RunState::Open {
            continue;
        }
        let kept = shelf.kept_of(&run)?;
        let sked = skeds.get(&run.sked);
        all.push(went(&run, sked, &kept));
        let object = object(&run, sked, &kept, receiver);
        by_sked.entry(run.sked).or_default().push(object);
    }
    let better = better_band(&all, &TimeZone::system());
    let rows = by_sked.into_iter().map(|(sked, runs)| {
        let title = runs.last().map_or(Value::Null, |run| run["title"].clone());
        json!({ "sked": sked, "title": title, "runs": runs })
    });
    Ok(json!({
        "from": from.to_string(),
        "until": now.to_string(),
        "hint": better.map(|better| better.to_string()),
        "skeds": rows.collect::<Vec<_>>(),
    }))
}

/// Where a sked has several frequencies nobody knows which of them was heard.
fn went(run: &Run, sked: Option<&Sked>, kept: &KeptOf) -> Went {
    let one = sked.and_then(|sked| match sked.channels[..] {
        [channel] => Some(band(channel.khz)),
        _ => None,
    });
    Went {
        title: run.title.clone(),
        begins: run.begins,
        band: one,
        sure: was_listened_to(run).then(|| kept.sure()),
    }
}

/// A sked that was missed for a reason at this end says nothing of the way.
fn was_listened_to(run: &Run) -> bool {
    run.state == RunState::Kept || run.nothing_heard()
}

fn object(run: &Run, sked: Option<&Sked>, kept: &KeptOf, receiver: &Receiver) -> Value {
    let there = sked.and_then(|sked| sked.place.parse::<Place>().ok());
    let sun = |place: Option<Place>| place.map(|place| elevation(place, run.begins).round());
    json!({
        "title": run.title,
        "begins": run.begins.to_string(),
        "state": run.state.word(),
        "cause": run.cause,
        "listened": was_listened_to(run),
        "sure": kept.sure(),
        "characters": kept.characters,
        "snr_3khz_db": kept.snr_3khz_db,
        "drift_hz": kept.drift_hz,
        // Degrees above the horizon when it was due.
        "sun_here": sun(receiver.place),
        "sun_there": sun(there),
        "evenings": run.heard_in().collect::<Vec<_>>(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_skeds::watch::Held;

    fn run(state: RunState, cause: &str) -> Run {
        let begins: Timestamp = "2026-11-01T20:00:00Z".parse().unwrap();
        Run {
            sked: 1,
            title: "News".into(),
            begins,
            ends: begins,
            held: Held::default(),
            state,
            cause: cause.into(),
            kept_in: vec![],
            last_heard: None,
            heard_for: SignedDuration::ZERO,
        }
    }

    #[test]
    fn what_nobody_listened_to_says_nothing_of_the_way() {
        let sure = |run: &Run| went(run, None, &KeptOf::default()).sure;
        assert_eq!(sure(&run(RunState::Missed, "the disk is full")), None);
        let nothing = "nothing that fits was heard; heard instead: a shift of 850 Hz";
        assert_eq!(sure(&run(RunState::Missed, nothing)), Some(0.0));
    }

    #[test]
    fn a_shelf_without_runs_has_a_history() {
        let folder = tempfile::tempdir().unwrap();
        let shelf = Shelf::make(folder.path()).unwrap();
        let receiver = Receiver {
            dial: None,
            warm_up_min: 0.0,
            place: None,
        };
        let told = of(&shelf, &receiver, Timestamp::now()).unwrap();
        assert_eq!((&told["skeds"], &told["hint"]), (&json!([]), &Value::Null));
    }
}
