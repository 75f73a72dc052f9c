//! What a person asks for while it runs.

use super::played::{Play, Recorder, listen, played, printed, sound_of, start, wait_for_end};
use markhold_event::Sense;
use markhold_sound::{Control, Sideband, Source, Taken};
use markhold_station::live::{Command, Hold, InUse, KeepNothing, Live, LiveOptions, Target};
use std::time::Duration;

const TEXT: &str = "RYRYRY DE Q1ABC GOOD EVENING ALL FROM THE HARBOUR CLUB";

/// Gives nothing, and can be turned if `dial` is there.
struct Quiet {
    dial: Option<std::sync::mpsc::Sender<Control>>,
}

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

    fn control(&mut self, control: Control) -> Result<(), String> {
        match &self.dial {
            Some(dial) => dial.send(control).map_err(|e| e.to_string()),
            None => Err("no dial".into()),
        }
    }
}

fn quiet(dial: Option<std::sync::mpsc::Sender<Control>>) -> Live {
    Live::start(Box::new(Quiet { dial }), LiveOptions::default()).expect("it works")
}

/// Waits until what is set is so.
fn wait_for(live: &Live, set: impl Fn(&InUse) -> bool) {
    while !set(&live.in_use()) {
        std::thread::sleep(Duration::from_millis(2));
    }
}

#[test]
fn holds_are_told_and_let_go() {
    let live = quiet(None);
    let hold = Hold {
        at_hz: Some(1500.0),
        rate_baud: Some(50.0),
        sense: Some(Sense::HigherTone),
        ..Hold::default()
    };
    live.command(Command::Hold(hold)).expect("it can be held");
    wait_for(&live, |in_use| in_use.hold == hold);
    live.command(Command::Sideband(Some(Sideband::Upper)))
        .expect("fine");
    live.command(Command::Target(Target::Middle(1500.0)))
        .expect("fine");
    wait_for(&live, |in_use| in_use.target == Target::Middle(1500.0));
    assert_eq!(live.in_use().hold, hold, "the hold stays");
    live.command(Command::LetGo).expect("fine");
    wait_for(&live, |in_use| in_use.hold == Hold::default());
    assert_eq!(
        live.in_use().sideband,
        Some(Sideband::Upper),
        "the sideband stays"
    );
    live.stop();
}

/// Four people at four browsers: each changes a thing of his own, all at once.
#[test]
fn wishes_of_several_at_once_add_up() {
    for round in 0..20 {
        let live = quiet(None);
        let hz = 1500.0 + f64::from(round);
        let hold = Hold {
            at_hz: Some(hz),
            ..Hold::default()
        };
        let wishes = [
            Command::Hold(hold),
            Command::Sideband(Some(Sideband::Upper)),
            Command::Target(Target::Middle(hz)),
            Command::Change(serde_json::json!({ "all": true })),
        ];
        let start = std::sync::Barrier::new(wishes.len());
        std::thread::scope(|scope| {
            for wish in wishes {
                let (live, start) = (live.clone(), &start);
                scope.spawn(move || {
                    start.wait();
                    live.command(wish).expect("it can be set");
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
        wait_for(&live, |in_use| *in_use == expected);
        live.stop();
    }
}

#[test]
fn a_wish_that_is_taken_back_at_once_is_taken_back() {
    let live = quiet(None);
    for sideband in [Some(Sideband::Upper), None, Some(Sideband::Lower)] {
        live.command(Command::Sideband(sideband)).expect("fine");
    }
    wait_for(&live, |in_use| in_use.sideband == Some(Sideband::Lower));
    live.stop();
}

#[test]
fn what_cannot_work_is_refused_and_changes_nothing() {
    let live = quiet(None);
    let hold = Hold {
        rate_baud: Some(300.0),
        ..Hold::default()
    };
    let said = live
        .command(Command::Hold(hold))
        .expect_err("too fast")
        .to_string();
    assert!(said.contains("300 baud"), "{said}");
    assert_eq!(live.in_use(), InUse::default());
    let said = live
        .command(Command::Control(Control::Dial(10.0)))
        .expect_err("no dial");
    assert_eq!(said.to_string(), "no dial");
    live.stop();
    let said = live
        .command(Command::LetGo)
        .expect_err("stopped")
        .to_string();
    assert!(said.contains("has ended"), "{said}");
}

#[test]
fn a_source_with_a_dial_is_turned() {
    let (dial, turned) = std::sync::mpsc::channel();
    let live = quiet(Some(dial));
    live.command(Command::Control(Control::Dial(-20.0)))
        .expect("it turns");
    assert_eq!(turned.recv(), Ok(Control::Dial(-20.0)));
    live.stop();
}

#[test]
fn another_source_goes_on_in_time_and_names() {
    let recorder = Recorder::default();
    let live = start(played([Play::Sound(sound_of(TEXT, 8000))]), &recorder);
    wait_for_end(&live);
    let second = played([Play::Sound(sound_of(TEXT, 8000))]);
    live.listen_to(second).expect("it works");
    while live.snapshot().ended.len() < 2 {
        std::thread::sleep(Duration::from_millis(5));
    }
    live.stop();
    let told = live.snapshot();
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
        in_use,
        keeper: Box::new(KeepNothing),
        ..LiveOptions::default()
    };
    let live = Live::start(played([Play::Sound(sound.clone())]), options).expect("it works");
    wait_for_end(&live);
    live.stop();
    let found = listen(played([Play::Sound(sound)])).1;
    assert_eq!(printed(&live.snapshot().sheet), printed(&found.sheet));
}

#[test]
fn commands_are_read_from_the_page() {
    let read = |text: &str| serde_json::from_str::<Command>(text);
    let hold = Command::Hold(Hold {
        at_hz: Some(2210.0),
        sense: Some(Sense::LowerTone),
        ..Hold::default()
    });
    let text = r#"{"hold":{"at_hz":2210.0,"sense":"lower"}}"#;
    assert_eq!(read(text).expect("a command"), hold);
    assert_eq!(read(r#""let-go""#).expect("a command"), Command::LetGo);
    let dial = Command::Control(Control::Dial(-10.0));
    assert_eq!(
        read(r#"{"control":{"dial":-10}}"#).expect("a command"),
        dial
    );
    let wrong = read(r#"{"hold":{"sense":"upside"}}"#)
        .expect_err("no sense")
        .to_string();
    assert!(
        wrong.contains("upside") && wrong.contains("lower"),
        "{wrong}"
    );
    assert!(read(r#"{"hold":{"baud":45}}"#).is_err());
}
