//! Skeds for the desk's page.

use super::dial::told as told_dial;
use super::edit::machine_is_there;
use super::object::StandsObject;
use super::tonight::Tonight;
use super::{Receiver, history, words};
use crate::machine::SettingsMachines;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use markhold_air::practice;
use markhold_desk::{DialSaid, SkedBook};
use markhold_shelf::{Shelf, ShelfError};
use markhold_skeds::learned::{FoundEvening, LearnedDial, Stands};
use markhold_skeds::watch::{Run, RunState, Waits};
use markhold_skeds::{Channel, Dial, Due, Figure, MarkOnAir, Shows, Sked, When, due};
use markhold_station::Room;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

/// Transmissions shown: that which is on or next, and some after it.
const SHOWN: usize = 4;

/// How long what is over is shown, hours: last night and tonight.
const PAST: SignedDuration = SignedDuration::from_hours(30);

/// What of the shelf is shown.
#[derive(Default)]
struct Kept {
    skeds: BTreeMap<i64, Sked>,
    found: Vec<FoundEvening>,
    /// With how they stand with their paper.
    runs: Vec<(Run, Option<String>)>,
    stands: Option<Stands>,
}

impl Kept {
    fn of(shelf: &Shelf, now: Timestamp) -> Result<Self, ShelfError> {
        let runs = shelf.runs(now.saturating_sub(PAST).unwrap_or(now))?;
        let with_paper = |run: Run| {
            let print = shelf.print_of(run.sked, run.begins)?;
            Ok((run, print.map(|print| print.words())))
        };
        Ok(Kept {
            skeds: shelf.skeds()?,
            found: shelf.dial_found()?,
            runs: runs
                .into_iter()
                .map(with_paper)
                .collect::<Result<_, ShelfError>>()?,
            stands: shelf.dial_stands(now)?,
        })
    }
}

/// The skeds of a shelf, and those of the practice band.
pub struct Book {
    /// The shelf's folder; `None` = nothing is kept, and there are no skeds.
    pub place: Option<PathBuf>,
    /// The folder of the shelf on which practice is kept, if it is.
    pub practice: Option<PathBuf>,
    /// The receiver.
    pub receiver: Receiver,
    /// What bulletins may be printed on.
    pub machines: Arc<SettingsMachines>,
}

impl SkedBook for Book {
    fn tonight(&self, room: Room) -> Result<Value, String> {
        if room == Room::Practice {
            let runs = self.practised(Timestamp::now());
            return Ok(told(&practice_skeds(), &practice_tonight(), &runs, true));
        }
        let Some(place) = &self.place else {
            return Ok(Value::Null);
        };
        let now = Timestamp::now();
        let kept = match Shelf::open(place) {
            Ok(shelf) => Kept::of(&shelf, now).map_err(|error| error.to_string())?,
            Err(ShelfError::Nothing { .. }) => Kept::default(),
            Err(error) => return Err(error.to_string()),
        };
        let tonight = Tonight {
            receiver: self.receiver,
            learned: LearnedDial::of(&kept.found),
            stands: kept.stands,
            now,
            here: TimeZone::system(),
        };
        Ok(told(&kept.skeds, &tonight, &kept.runs, false))
    }

    fn went(&self) -> Result<Value, String> {
        let Some(place) = &self.place else {
            return Ok(Value::Null);
        };
        let words = |error: ShelfError| error.to_string();
        match Shelf::open(place) {
            Ok(shelf) => history::of(&shelf, &self.receiver, Timestamp::now()).map_err(words),
            Err(ShelfError::Nothing { .. }) => Ok(Value::Null),
            Err(error) => Err(words(error)),
        }
    }

    fn put(&self, id: Option<i64>, sked: Value) -> Result<(), String> {
        let sked: Sked = serde_json::from_value(sked).map_err(|error| error.to_string())?;
        // Zone and rules are understood, or it is said now.
        let all = (Timestamp::UNIX_EPOCH, Timestamp::MAX);
        machine_is_there(&sked, &self.machines)?;
        let comes = sked.when.occurrences(jiff::tz::db(), all, 1);
        if comes.map_err(|error| error.to_string())?.is_empty() {
            return Err("it never comes; look at its rule".into());
        }
        let mut shelf = self.shelf()?;
        let done = match id {
            Some(id) => shelf.change_sked(id, &sked),
            None => shelf.add_sked(&sked).map(drop),
        };
        done.map_err(|error| error.to_string())
    }

    fn dial(&self, said: DialSaid) -> Result<(), String> {
        let now = Timestamp::now();
        let mut shelf = self.shelf()?;
        let words = |error: ShelfError| error.to_string();
        let before = shelf.dial_stands(now).map_err(words)?;
        let on = said.switched_on.then_some(now);
        let stands = told_dial(
            before,
            now,
            (said.khz, on, said.khz.is_none() && on.is_none()),
        );
        let stands = stands.map_err(|error| error.to_string())?;
        shelf.dial_was_set(&stands).map_err(words)
    }

    fn remove(&self, id: i64) -> Result<(), String> {
        let removed = self.shelf()?.remove_sked(id);
        removed.map(drop).map_err(|error| error.to_string())
    }
}

impl Book {
    /// What became of the skeds of the practice band; nothing, where nothing is kept of it yet.
    fn practised(&self, now: Timestamp) -> Vec<(Run, Option<String>)> {
        let place = self.practice.as_deref();
        let shelf = place.and_then(|place| Shelf::open(place).ok());
        let runs = shelf.and_then(|shelf| shelf.runs(now.saturating_sub(PAST).ok()?).ok());
        let runs = runs.unwrap_or_default().into_iter();
        runs.map(|run| (run, None)).collect()
    }

    fn shelf(&self) -> Result<Shelf, String> {
        let place = self
            .place
            .as_ref()
            .ok_or("nothing is kept here: start markhold without --no-keep")?;
        Shelf::make(place).map_err(|error| error.to_string())
    }
}

fn told(
    skeds: &BTreeMap<i64, Sked>,
    tonight: &Tonight,
    runs: &[(Run, Option<String>)],
    practice: bool,
) -> Value {
    let (all, wrong) = due(skeds, jiff::tz::db(), tonight.now, SHOWN);
    let object = |due: &Due| {
        let mut object = json!(tonight.object(due, &skeds[&due.sked]));
        // The page counts by itself: what changes each second would be told as a change.
        object
            .as_object_mut()
            .map(|fields| fields.remove("seconds"));
        if practice && let Some(dials) = object["dial"].as_array_mut() {
            // It is as it was built.
            let known = "the practice dial is right";
            dials
                .iter_mut()
                .for_each(|dial| dial["known"] = known.into());
        }
        object
    };
    let row = |(id, sked): (&i64, &Sked)| {
        let why = wrong.iter().find(|(other, _)| other == id);
        let why = why.map_or(String::new(), |(_, why)| format!(": {why}"));
        let row = words::row(*id, sked);
        json!({ "id": id, "text": format!("{}{why}", row.trim()), "sked": sked })
    };
    let (open, past): (Vec<_>, Vec<_>) = runs
        .iter()
        .partition(|(run, _)| run.state == RunState::Open);
    let begun = open
        .into_iter()
        .filter(|(run, _)| run.begins <= tonight.now);
    // The practice dial is right, and one that is not described tells nothing.
    let described = !practice && tonight.receiver.dial.is_some();
    json!({
        "open": begun.map(became).collect::<Vec<_>>(),
        "past": past.into_iter().rev().map(became).collect::<Vec<_>>(),
        "now": tonight.now.to_string(),
        "practice": practice,
        "dial": described.then(|| json!({
            "stands": tonight.stands.as_ref().map(StandsObject::of),
            "by_itself": tonight.receiver.daemon.is_some(),
        })),
        "due": all.iter().map(object).collect::<Vec<_>>(),
        "skeds": skeds.iter().map(row).collect::<Vec<_>>(),
    })
}

/// What became of one, so far.
fn became((run, paper): &(Run, Option<String>)) -> Value {
    json!({
        "title": run.title,
        "begins": run.begins.to_string(),
        "state": run.state.word(),
        "cause": run.cause,
        "heard": run.last_heard.is_some(),
        "paper": paper,
        "evenings": run.heard_in().collect::<Vec<_>>(),
    })
}

/// Minutes between two transmissions of one practice station, and how long they last: a newcomer
/// sees some begin and end within ten minutes.
const PRACTICE_EVERY_MIN: i64 = 12;
const PRACTICE_LASTS_MIN: f64 = 4.0;

/// How long is waited on the practice band: its stations are there all the time, and somebody who
/// learns waits for nothing.
pub const PRACTICE_WAITS: Waits = Waits {
    early: SignedDuration::from_secs(30),
    late: SignedDuration::from_secs(40),
    quiet: SignedDuration::from_secs(20),
    overrun: SignedDuration::from_secs(40),
};

/// Invented skeds of the practice band's stations, some minutes apart, in zones all over.
pub fn practice_skeds() -> BTreeMap<i64, Sked> {
    let zones = [
        "Europe/London",
        "America/New_York",
        "Australia/Sydney",
        "UTC",
    ];
    let stations = practice::stations().iter().zip(zones).zip(0i64..);
    let sked = |((station, zone), number): ((&practice::PracticeStation, &str), i64)| {
        let minutes = number * PRACTICE_EVERY_MIN / 4;
        let first = jiff::civil::date(2026, 1, 1).at(0, 0, 0, 0);
        let first = first.saturating_add(SignedDuration::from_mins(minutes));
        let mark = match station.shift_hz < 0.0 {
            true => MarkOnAir::Higher,
            false => MarkOnAir::Lower,
        };
        let sked = Sked {
            station: station.call.into(),
            name: station.what.into(),
            sends: String::new(),
            channels: vec![Channel {
                khz: station.mark_hz / 1e3,
                means: Figure::Mark,
            }],
            shift_hz: Some(station.shift_hz.abs()),
            rate_baud: Some(station.speed.rate_baud),
            mark: Some(mark),
            when: When {
                zone: zone.into(),
                first,
                rules: vec![format!("FREQ=HOURLY;BYMINUTE={}", minutes_of(minutes))],
                except: vec![],
                also: vec![],
            },
            length_min: PRACTICE_LASTS_MIN,
            place: String::new(),
            notes: String::new(),
            print_on: String::new(),
        };
        (number + 1, sked)
    };
    stations.map(sked).collect()
}

/// The minutes of an hour at which a practice station sends.
fn minutes_of(first: i64) -> String {
    let minutes = (first..60).step_by(PRACTICE_EVERY_MIN as usize);
    minutes
        .map(|minute| minute.to_string())
        .collect::<Vec<_>>()
        .join(",")
}

/// The practice receiver is warm and its dial right, unless it is turned to be otherwise.
fn practice_tonight() -> Tonight {
    let dial = Dial {
        shows: Shows::LowerCarrier,
        step_hz: 10.0,
        ..Dial::default()
    };
    Tonight {
        receiver: Receiver {
            dial: Some(dial),
            daemon: None,
            warm_up_min: 0.0,
            place: None,
        },
        learned: LearnedDial::of(&[]),
        stands: None,
        now: Timestamp::now(),
        here: TimeZone::system(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_practice_band_has_something_every_few_minutes() {
        let told = told(&practice_skeds(), &practice_tonight(), &[], true);
        let due = told["due"].as_array().unwrap();
        assert_eq!(due.len(), SHOWN, "{told}");
        let begins = |k: usize| {
            due[k]["begins"]
                .as_str()
                .unwrap()
                .parse::<Timestamp>()
                .unwrap()
        };
        let minutes = begins(3).duration_since(begins(0)).as_mins();
        assert!((6..=9).contains(&minutes), "{minutes}");
        assert!(due[0]["dial"][0]["set_khz"].as_f64().unwrap() > 7000.0);
    }

    #[test]
    fn what_the_page_keeps_it_shows() {
        let folder = tempfile::tempdir().unwrap();
        let receiver = practice_tonight().receiver;
        let settings = folder.path().join("settings.toml");
        std::fs::write(&settings, "").unwrap();
        let none = crate::machine::Outfit {
            settings: Some(settings),
            ..Default::default()
        };
        let machines = Arc::new(SettingsMachines::new(none, None));
        let book = Book {
            place: Some(folder.path().join("shelf")),
            practice: None,
            receiver,
            machines: machines.clone(),
        };
        let empty = book.tonight(Room::Radio).unwrap();
        assert_eq!((&empty["due"], &empty["skeds"]), (&json!([]), &json!([])));
        let sked = |zone: &str| {
            json!({"version": 1, "station": "Q1LMC", "name": "News", "channels": [{"khz": 3597}], "length_min": 30,
                "when": {"zone": zone, "first": "2026-01-04T20:00", "rules": ["FREQ=DAILY"]}})
        };
        assert!(
            book.put(None, sked("Atlantis"))
                .unwrap_err()
                .contains("Atlantis")
        );
        book.put(None, sked("UTC")).unwrap();
        let told = book.tonight(Room::Radio).unwrap();
        assert_eq!(told["due"][0]["name"], "News");
        let id = told["skeds"][0]["id"].as_i64().unwrap();
        let mut on_paper = sked("UTC");
        on_paper["print_on"] = "attic".into();
        assert!(book.put(None, on_paper).unwrap_err().contains("attic"));
        let at = |khz, switched_on| DialSaid { khz, switched_on };
        book.dial(at(Some(3597.9), true)).unwrap();
        assert!(
            book.dial(at(Some(-1.0), false))
                .unwrap_err()
                .contains("-1 kHz")
        );
        let stands = &book.tonight(Room::Radio).unwrap()["dial"]["stands"];
        assert_eq!(
            (&stands["khz"], &stands["by"]),
            (&json!(3597.9), &json!("person"))
        );
        book.dial(at(None, false)).unwrap();
        let stands = &book.tonight(Room::Radio).unwrap()["dial"]["stands"];
        assert!(
            stands["khz"].is_null() && stands["on"].is_string(),
            "{stands}"
        );
        assert!(book.tonight(Room::Practice).unwrap()["dial"].is_null());
        // What the page was given it gives back.
        book.put(Some(id), told["skeds"][0]["sked"].clone())
            .unwrap();
        book.remove(id).unwrap();
        assert!(book.remove(id).unwrap_err().contains("no sked"));
        let nowhere = Book {
            place: None,
            practice: None,
            receiver,
            machines,
        };
        assert_eq!(nowhere.tonight(Room::Radio).unwrap(), Value::Null);
    }
}
