//! What a person asks for while it runs.

use super::played::{Play, Recorder, listen, played, printed, sound_of, start, wait_for_end};
use markhold_event::Sense;
use markhold_sound::{Sideband, Source, Taken};
use markhold_station::inputs::{InputChoice, Inputs};
use markhold_station::live::{Live, LiveOptions};
use markhold_station::settings::{Hold, InUse, Target};
use markhold_station::{Board, Snapshot, Station, StationOptions, Wish};
use std::sync::Arc;
use std::time::Duration;

const TEXT: &str = "RYRYRY DE Q1ABC GOOD EVENING ALL FROM THE HARBOUR CLUB";

/// Gives nothing.
struct Quiet;

impl Source for Quiet {
    fn name(&self) -> String {
        "quiet".into()
    }

    fn rate(&self) -> u32 {
        8000
    }

    fn is_live(&self) -> bool {
        true
    }

    fn take(&mut self, _: &mut Vec<f32>) -> Taken {
        std::thread::sleep(Duration::from_millis(5));
        Taken::Nothing
    }
}

impl Inputs for Quiet {
    fn list(&self) -> Vec<InputChoice> {
        Vec::new()
    }

    fn open(&self, _: &str) -> Result<Box<dyn Source>, String> {
        Ok(Box::new(Quiet))
    }
}

fn quiet() -> Station {
    let options = StationOptions {
        inputs: Arc::new(Quiet),
        ..StationOptions::default()
    };
    Station::start(options, "quiet").expect("it works")
}

/// Waits until what is set is so.
fn wait_for(station: &Station, set: impl Fn(&InUse) -> bool) {
    while !station.look(|sum| set(&sum.in_use)) {
        std::thread::sleep(Duration::from_millis(2));
    }
}

#[test]
fn holds_are_told_and_let_go() {
    let station = quiet();
    let hold = Hold {
        at_hz: Some(1500.0),
        rate_baud: Some(50.0),
        sense: Some(Sense::HigherTone),
        ..Hold::default()
    };
    station.wish(&Wish::Hold(hold)).expect("it can be held");
    wait_for(&station, |in_use| in_use.hold == hold);
    station
        .wish(&Wish::Sideband(Some(Sideband::Upper)))
        .expect("fine");
    station
        .wish(&Wish::Target(Target::Middle(1500.0)))
        .expect("fine");
    wait_for(&station, |in_use| in_use.target == Target::Middle(1500.0));
    assert_eq!(station.look(|sum| sum.in_use).hold, hold, "the hold stays");
    station.wish(&Wish::LetGo).expect("fine");
    wait_for(&station, |in_use| in_use.hold == Hold::default());
    assert_eq!(
        station.look(|sum| sum.in_use).sideband,
        Some(Sideband::Upper),
        "the sideband stays"
    );
    station.stop();
}

/// Four people at four browsers: each changes a thing of his own, all at once.
#[test]
fn wishes_of_several_at_once_add_up() {
    for round in 0..20 {
        let station = quiet();
        let hz = 1500.0 + f64::from(round);
        let hold = Hold {
            at_hz: Some(hz),
            ..Hold::default()
        };
        let wishes = [
            Wish::Hold(hold),
            Wish::Sideband(Some(Sideband::Upper)),
            Wish::Target(Target::Middle(hz)),
            Wish::Change(serde_json::json!({ "all": true })),
        ];
        let start = std::sync::Barrier::new(wishes.len());
        std::thread::scope(|scope| {
            for wish in wishes {
                let (station, start) = (station.clone(), &start);
                scope.spawn(move || {
                    start.wait();
                    station.wish(&wish).expect("it can be set");
                });
            }
        });
        let expected = InUse {
            hold,
            sideband: Some(Sideband::Upper),
            target: Target::Middle(hz),
            all: true,
            ..InUse::default()
        };
        wait_for(&station, |in_use| *in_use == expected);
        station.stop();
    }
}

#[test]
fn a_wish_that_is_taken_back_at_once_is_taken_back() {
    let station = quiet();
    for sideband in [Some(Sideband::Upper), None, Some(Sideband::Lower)] {
        station.wish(&Wish::Sideband(sideband)).expect("fine");
    }
    wait_for(&station, |in_use| in_use.sideband == Some(Sideband::Lower));
    station.stop();
}

#[test]
fn what_cannot_work_is_refused_and_changes_nothing() {
    let station = quiet();
    let hold = Hold {
        rate_baud: Some(300.0),
        ..Hold::default()
    };
    let said = station
        .wish(&Wish::Hold(hold))
        .expect_err("too fast")
        .to_string();
    assert!(said.contains("300 baud"), "{said}");
    assert_eq!(station.look(|sum| sum.in_use), InUse::default());
    station.stop();
    let said = station.wish(&Wish::LetGo).expect_err("stopped").to_string();
    assert!(said.contains("has ended"), "{said}");
}

#[test]
fn another_source_goes_on_in_time_and_names() {
    let recorder = Recorder::default();
    let live = start(played([Play::Sound(sound_of(TEXT, 8000))]), &recorder);
    wait_for_end(&live);
    let second = played([Play::Sound(sound_of(TEXT, 8000))]);
    live.listen_to(second).expect("it works");
    while live.board().snapshot().ended.len() < 2 {
        std::thread::sleep(Duration::from_millis(5));
    }
    live.stop();
    let told = live.board().snapshot();
    assert_eq!(printed(&told.sheet).matches("HARBOUR CLUB").count(), 2);
    assert_eq!(told.anchors.len(), 2);
    let names: Vec<u32> = told.ended.iter().map(|s| s.id.0).collect();
    assert_eq!(names, [1, 2]);
    assert!(told.ended[1].begin_s > told.ended[0].until_s);
}

#[test]
fn a_held_sense_is_copied_so() {
    let sound = sound_of(TEXT, 8000);
    let in_use = InUse {
        hold: Hold {
            sense: Some(Sense::LowerTone),
            shift_hz: Some(170.0),
            ..Hold::default()
        },
        ..InUse::default()
    };
    let options = LiveOptions {
        board: Board::new(Snapshot {
            in_use,
            ..Snapshot::default()
        }),
        ..LiveOptions::default()
    };
    let live = Live::start(played([Play::Sound(sound.clone())]), options).expect("it works");
    wait_for_end(&live);
    live.stop();
    let found = listen(played([Play::Sound(sound)])).1;
    assert_eq!(
        printed(&live.board().snapshot().sheet),
        printed(&found.sheet)
    );
}

#[test]
fn wishes_are_read_from_the_page() {
    let read = |text: &str| serde_json::from_str::<Wish>(text);
    let hold = Wish::Hold(Hold {
        at_hz: Some(2210.0),
        sense: Some(Sense::LowerTone),
        ..Hold::default()
    });
    let text = r#"{"ask":"hold","value":{"at_hz":2210.0,"sense":"lower"}}"#;
    assert_eq!(read(text).expect("a wish"), hold);
    assert_eq!(read(r#"{"ask":"let-go"}"#).expect("a wish"), Wish::LetGo);
    let wrong = read(r#"{"ask":"hold","value":{"sense":"upside"}}"#)
        .expect_err("no sense")
        .to_string();
    assert!(
        wrong.contains("upside") && wrong.contains("lower"),
        "{wrong}"
    );
    assert!(read(r#"{"ask":"hold","value":{"baud":45}}"#).is_err());
}
