//! Listening live gives the copy that the receiver gives.

use super::played::{Play, Recorder, characters, listen, offline, played, printed, sound_of};
use super::played::{start, wait_for_end};
use markhold_event::Event;
use markhold_station::{Delivery, Report};

const TEXT: &str = "RYRYRY DE Q1ABC GOOD EVENING ALL FROM THE HARBOUR CLUB";

#[test]
fn the_copy_is_that_of_the_receiver_alone() {
    let sound = sound_of(TEXT, 8000);
    let (kept, snapshot) = listen(played([Play::Sound(sound.clone())]));
    let told = kept.events;
    let early = told.iter().filter(|e| matches!(e, Event::Early(_)));
    let early = early.count();
    assert!(early > 20, "first readings: {early}");
    assert_eq!(told, offline(&sound, 8000));
    assert_eq!(Vec::from(snapshot.sheet), characters(&told));
    assert!(printed(&characters(&told)).contains("HARBOUR CLUB"));
}

#[test]
fn every_sample_is_kept() {
    let sound = sound_of(TEXT, 8000);
    let (kept, _) = listen(played([Play::Sound(sound.clone())]));
    assert_eq!(kept.begun, [(8000, 0.0)]);
    assert!(kept.samples == sound && kept.finished && kept.lost.is_empty());
}

#[test]
fn what_cannot_be_kept_is_told_once_and_copied_all_the_same() {
    let recorder = Recorder::default();
    recorder.0.lock().expect("fresh").fails = true;
    let live = start(played([Play::Sound(sound_of(TEXT, 8000))]), &recorder);
    wait_for_end(&live);
    live.stop();
    let snapshot = live.board().snapshot();
    let said = format!("{:?}", snapshot.inputs);
    assert_eq!(said.matches("the disk is full").count(), 1, "{said}");
    assert!(printed(&snapshot.sheet).contains("HARBOUR CLUB"));
}

#[test]
fn the_snapshot_is_enough_to_draw_the_page() {
    let (_, snapshot) = listen(played([Play::Sound(sound_of(TEXT, 8000))]));
    assert_eq!((snapshot.rate, snapshot.ended.len()), (8000, 1));
    assert!(snapshot.early.is_empty() && !snapshot.sheet.is_empty());
    assert!(snapshot.rows.len() > 200 && snapshot.drift.len() > 2);
    assert!(!snapshot.tuning.words.is_empty());
    let json = serde_json::to_value(&snapshot).expect("JSON");
    assert_eq!(json["sheet"][0]["signal"], 1);
    assert_eq!(json["inputs"][0]["input"], "listening");
}

#[test]
fn a_page_that_joins_in_the_middle_misses_nothing() {
    let recorder = Recorder::default();
    let live = start(played([Play::Sound(sound_of(TEXT, 8000))]), &recorder);
    let mut early = live.board().join().1;
    for _ in 0..10 {
        assert!(early.wait().is_some());
    }
    let (mut sum, mut late) = live.board().join();
    loop {
        match late.wait() {
            Some(Delivery::Report(report)) => {
                sum.take(&report);
                if matches!(report.as_ref(), Report::Input(_)) && sum.gone.is_some() {
                    break;
                }
            }
            // On a machine that is too busy for this test: begin again, as a page does.
            Some(Delivery::Missed(_)) => (sum, late) = live.board().join(),
            None => break,
        }
        if sum.gone.is_some() {
            break;
        }
    }
    live.stop();
    assert_eq!(sum.sheet, live.board().snapshot().sheet);
    assert!(printed(&sum.sheet).contains("HARBOUR CLUB"));
}

#[test]
fn after_the_stop_subscriptions_end() {
    let live = start(played([]), &Recorder::default());
    let mut subscription = live.board().join().1;
    live.stop();
    while subscription.wait().is_some() {}
    assert!(live.board().join().1.wait().is_none());
}
