//! Listening live gives the copy that the receiver gives.

use super::played::{Play, characters, events, offline, played, printed, sound_of};
use super::played::{start, until_end};
use markhold_receive::event::Event;
use markhold_station::live::{Delivery, LiveOptions};

const TEXT: &str = "RYRYRY DE Q1ABC GOOD EVENING ALL FROM THE HARBOUR CLUB";

#[test]
fn the_copy_is_that_of_the_receiver_alone() {
    let sound = sound_of(TEXT, 8000);
    let source = played([Play::Sound(sound.clone())]);
    let (live, mut subscription) = start(source, LiveOptions::default());
    let mut told = events(&until_end(&mut subscription));
    live.stop();
    assert!(told.iter().any(|e| matches!(e, Event::Early(_))));
    told.retain(|e| !matches!(e, Event::Early(_)));
    assert_eq!(told, offline(&sound, 8000));
    assert!(printed(&characters(&told)).contains("HARBOUR CLUB"));
}

#[test]
fn the_snapshot_holds_what_was_told() {
    let source = played([Play::Sound(sound_of(TEXT, 8000))]);
    let (live, mut subscription) = start(source, LiveOptions::default());
    let told = characters(&events(&until_end(&mut subscription)));
    live.stop();
    let snapshot = live.snapshot();
    assert_eq!(snapshot.sheet, told);
    assert_eq!((snapshot.rate, snapshot.ended.len()), (8000, 1));
    let json = serde_json::to_value(&snapshot).expect("JSON");
    assert_eq!(json["sheet"][0]["signal"], 1);
}

#[test]
fn a_page_that_joins_in_the_middle_misses_nothing() {
    let source = played([Play::Sound(sound_of(TEXT, 8000))]);
    let (live, mut early) = start(source, LiveOptions::default());
    let mut some = 0;
    while some < 10 {
        let Some(Delivery::Report(_)) = early.wait() else {
            panic!("it ended")
        };
        some += 1;
    }
    let (snapshot, mut late) = live.join();
    let mut sheet: Vec<_> = snapshot.sheet.into_iter().collect();
    sheet.extend(characters(&events(&until_end(&mut late))));
    live.stop();
    assert_eq!(sheet, Vec::from(live.snapshot().sheet));
    assert!(printed(&sheet).contains("HARBOUR CLUB"));
}

#[test]
fn after_the_stop_subscriptions_end() {
    let (live, mut subscription) = start(played([]), LiveOptions::default());
    live.stop();
    while subscription.wait().is_some() {}
    assert!(live.subscribe().wait().is_none());
}
