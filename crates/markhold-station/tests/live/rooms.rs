//! A station without a page: what is really heard and practice are rooms of their own.

use super::played::{Play, ThenNothing, played, printed, sound_of};
use markhold_event::Event;
use markhold_shelf::{KeepSettings, Shelf};
use markhold_sound::Source;
use markhold_station::inputs::{InputChoice, Inputs, Missing, PRACTICE};
use markhold_station::practice::PracticeReceiver;
use markhold_station::{Delivery, Report, Room, Shelved, Station, StationOptions, Wish};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

const TEXT: &str = "RYRYRY DE Q1ABC GOOD EVENING ALL FROM THE HARBOUR CLUB";

/// One input: a sender's text, then silence for as long as somebody listens.
struct Harbour;

impl Inputs for Harbour {
    fn list(&self) -> Vec<InputChoice> {
        ["harbour", "attic"]
            .map(|id| InputChoice {
                id: id.into(),
                name: id.into(),
            })
            .into()
    }

    fn open(&self, id: &str) -> Result<Box<dyn Source>, String> {
        match id {
            "harbour" => Ok(Box::new(ThenNothing(
                "harbour",
                played([Play::Sound(sound_of(TEXT, 8000))]),
            ))),
            // The system knows more inputs than it lists.
            "endless" => Ok(Box::new(Missing::new("nobody may choose it"))),
            _ => Err(format!("there is no input \"{id}\"")),
        }
    }
}

fn options(shelf: &Path, practice: bool) -> StationOptions {
    StationOptions {
        inputs: Arc::new(Harbour),
        practice: PracticeReceiver::new(1, 20.0),
        shelf: Some(Shelved {
            place: shelf.into(),
            keep: KeepSettings::default(),
            words: "the shelf".into(),
            practice,
        }),
        ..StationOptions::default()
    }
}

/// Waits until the room shown has copied something.
fn wait_for(station: &Station, part: &str) {
    let begun = Instant::now();
    while !station.look(|sum| printed(&sum.sheet).contains(part)) {
        assert!(
            begun.elapsed() < Duration::from_secs(60),
            "waited for {part:?} in vain: {:?}",
            station.look(|sum| printed(&sum.sheet))
        );
        std::thread::sleep(Duration::from_millis(10));
    }
}

fn listen(station: &Station, id: &str) {
    station.wish(&Wish::Listen(id.into())).expect("it opens");
}

#[test]
fn practice_is_never_on_the_sheet_or_the_shelf_of_the_evening() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("shelf");
    let station = Station::start(options(&place, false), "harbour").expect("it opens");
    let (_, mut radio) = station.join();
    wait_for(&station, "Q1ABC");
    listen(&station, PRACTICE);
    // Who followed the radio is told that there is another room now.
    let told = std::iter::from_fn(|| radio.wait()).find_map(|delivery| match delivery {
        Delivery::Report(report) => match *report {
            Report::Room(room) => Some(room),
            _ => None,
        },
        Delivery::Missed(_) => None,
    });
    assert_eq!(told, Some(Room::Practice));
    let practice = station.join().0;
    assert_eq!(
        (practice.room, practice.input.as_str()),
        (Room::Practice, PRACTICE)
    );
    assert_eq!(practice.kept, None, "practice is not kept");
    wait_for(&station, "Q");
    assert!(!station.look(|sum| printed(&sum.sheet).contains("HARBOUR CLUB")));
    // The evening went on meanwhile, and stands as it was.
    listen(&station, "harbour");
    let radio = station.join().0;
    assert_eq!(
        (radio.room, radio.kept.as_deref()),
        (Room::Radio, Some("the shelf"))
    );
    assert!(printed(&radio.sheet).contains("RYRYRY DE Q1ABC"));
    station.stop();
    let shelf = Shelf::open(&place).expect("a shelf");
    let evenings = shelf.evenings(None, None, 10).expect("evenings");
    let inputs: Vec<&str> = evenings
        .iter()
        .map(|evening| evening.input.as_str())
        .collect();
    assert_eq!(inputs, ["harbour"]);
    assert!(evenings[0].end.is_some(), "finished");
    let heard = station.look(|sum| printed(&sum.sheet));
    let read = evenings[0].best_reading().expect("a reading").characters;
    assert!(heard.contains("HARBOUR CLUB") && read >= 50, "{heard}");
}

#[test]
fn practice_that_is_kept_is_an_evening_of_its_own() {
    let folder = tempfile::tempdir().expect("a folder");
    let place = folder.path().join("shelf");
    let station = Station::start(options(&place, true), PRACTICE).expect("a band");
    wait_for(&station, "Q");
    listen(&station, "harbour");
    wait_for(&station, "Q1ABC");
    station.stop();
    let shelf = Shelf::open(&place).expect("a shelf");
    let evenings = shelf.evenings(None, None, 10).expect("evenings");
    let mut inputs: Vec<&str> = evenings
        .iter()
        .map(|evening| evening.input.as_str())
        .collect();
    inputs.sort_unstable();
    assert_eq!(inputs, ["Practice band", "harbour"]);
}

#[test]
fn an_input_that_is_not_there_changes_nothing() {
    let station = Station::start(options(Path::new("unused"), false), PRACTICE).expect("a band");
    let why = station
        .wish(&Wish::Listen("attic".into()))
        .expect_err("no input");
    assert!(why.to_string().contains("attic"), "{why}");
    assert_eq!(station.look(|sum| sum.room), Room::Practice);
    station.stop();
    let patient = StationOptions {
        patient: true,
        ..options(Path::new("unused-too"), false)
    };
    let patient = StationOptions {
        shelf: None,
        ..patient
    };
    let station = Station::start(patient, "attic").expect("it begins all the same");
    let mut follower = station.follow();
    while station.look(|sum| sum.gone.is_none()) {
        let report = follower.wait().expect("it goes on");
        assert!(!matches!(*report, Report::Event(Event::Character(_))));
    }
    station.stop();
}

#[test]
fn only_what_is_offered_can_be_chosen() {
    let folder = tempfile::tempdir().expect("a folder");
    let station = Station::start(options(folder.path(), false), "harbour").expect("it opens");
    let refused = station.wish(&Wish::Listen("endless".into()));
    let why = refused.expect_err("it is not in the list").to_string();
    assert!(why.contains("choose one"), "{why}");
    assert_eq!(station.look(|sum| sum.input.clone()), "harbour");
    station.stop();
}
