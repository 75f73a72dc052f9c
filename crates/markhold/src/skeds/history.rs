//! How skeds went over the last weeks, for the page.

use super::Receiver;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::{KeptOf, Shelf, ShelfError};
use markhold_skeds::learned::band;
use markhold_skeds::watch::{Run, RunState};
use markhold_skeds::{InHour, Place, Sked, Went, better_band, by_band_and_hour, elevation};
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
        let heard_on = shelf.band_of(run.sked, run.begins)?;
        all.push(went(&run, (sked, heard_on), &kept));
        let paper = shelf.print_of(run.sked, run.begins)?;
        let mut object = object(&run, sked, &kept, receiver);
        object["paper"] = json!(paper.map(|print| print.words()));
        by_sked.entry(run.sked).or_default().push(object);
    }
    let here = TimeZone::system();
    let better = better_band(&all, &here);
    let hours = by_band_and_hour(&all, &here).into_iter().map(in_hour);
    let rows = by_sked.into_iter().map(|(sked, runs)| {
        let title = runs.last().map_or(Value::Null, |run| run["title"].clone());
        json!({ "sked": sked, "title": title, "runs": runs })
    });
    Ok(json!({
        "from": from.to_string(),
        "until": now.to_string(),
        "hours": hours.collect::<Vec<_>>(),
        "hint": better.map(|better| better.to_string()),
        "skeds": rows.collect::<Vec<_>>(),
    }))
}

fn in_hour(cell: InHour) -> Value {
    json!({ "band": cell.band, "hour": cell.hour, "runs": cell.runs, "sure": cell.sure })
}

/// Where a sked has several frequencies the dial says which of them was heard, if it was known.
fn went(run: &Run, (sked, heard_on): (Option<&Sked>, Option<u32>), kept: &KeptOf) -> Went {
    let one = sked.and_then(|sked| match sked.channels[..] {
        [channel] => Some(band(channel.khz)),
        _ => None,
    });
    Went {
        title: run.title.clone(),
        begins: run.begins,
        band: one.or(heard_on),
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
        let sure = |run: &Run| went(run, (None, None), &KeptOf::default()).sure;
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
            daemon: None,
            warm_up_min: 0.0,
            place: None,
        };
        let told = of(&shelf, &receiver, Timestamp::now()).unwrap();
        assert_eq!((&told["skeds"], &told["hint"]), (&json!([]), &Value::Null));
    }
}
