//! Which reading of an evening stands: the surest of itself, unless a person chose.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::sending::{scene, sound};
use common::*;
use markhold_event::{Event, Sense};
use markhold_receive::{Receiver, Settings};
use markhold_shelf::{Filter, Keeper, Shelf};

const TEXT: &str = "THE MARSH IS WET AND THE PUMP IS DRY SO BRING A BUCKET TO THE NET TONIGHT";

fn kept() -> (tempfile::TempDir, Shelf) {
    let sound = sound(scene(TEXT), RATE);
    let folder = tempfile::tempdir().unwrap();
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &sound);
    let mut receiver = Receiver::new(f64::from(RATE), Settings::default()).unwrap();
    let keep = &mut |event: Event| keeper.event(&event);
    receiver.process(&sound, keep);
    receiver.finish(keep);
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    (folder, shelf)
}

fn again(shelf: &mut Shelf, settings: &Settings) {
    shelf.copy_again(1, settings, &mut |_| {}).unwrap();
}

fn found(shelf: &Shelf) -> usize {
    shelf.search("bucket", &Filter::default()).unwrap().len()
}

#[test]
fn a_worse_reading_hides_no_better_one() {
    let (_folder, mut shelf) = kept();
    // The wrong way round: garble, or nothing.
    let wrong = Settings {
        sense: Some(Sense::HigherTone),
        ..Settings::default()
    };
    again(&mut shelf, &wrong);
    let evening = shelf.evening(1).unwrap();
    let [live, new] = &evening.readings[..] else {
        panic!("{:?}", evening.readings);
    };
    assert!(new.whole && new.finished);
    let (live, new) = (live.certainty.unwrap(), new.certainty.unwrap());
    assert!(live > 60.0 && new < live, "{live} {new}");
    assert_eq!((evening.best, found(&shelf)), (0, 1));
    // One that is as good stands, being the later.
    again(&mut shelf, &Settings::default());
    assert_eq!((shelf.evening(1).unwrap().best, found(&shelf)), (2, 1));
    // What a person chose stays.
    shelf.choose(1, Some(2)).unwrap();
    again(&mut shelf, &Settings::default());
    assert_eq!((shelf.evening(1).unwrap().best, found(&shelf)), (1, 0));
    shelf.choose(1, None).unwrap();
    assert_eq!(shelf.evening(1).unwrap().best, 3);
}

#[test]
fn a_garbled_call_is_found_with_that_said() {
    let folder = tempfile::tempdir().unwrap();
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    settle(&keeper);
    let mut events = transmission(1, 0.5, "CQ DE QRN?TZ K\r\nCQ DE QRVTZ K\r\n");
    let garbled = events.iter_mut().find_map(|event| match event {
        Event::Character(character) if character.doubt.is_some() => Some(character),
        _ => None,
    });
    // V, by the alphabet.
    garbled.unwrap().alternatives[0].code = markhold_code::Code::new(0b11110).unwrap();
    events.iter().for_each(|event| keeper.event(event));
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    let asked = |alternatives| {
        let filter = Filter {
            alternatives,
            ..Filter::default()
        };
        let hits = shelf.search("qrvtz", &filter).unwrap();
        let found = |hit: markhold_shelf::Hit| (hit.line.text().to_string(), hit.maybe);
        hits.into_iter().map(found).collect::<Vec<_>>()
    };
    let printed = ("CQ DE QRVTZ K".to_string(), None);
    assert_eq!(asked(false)[..], [("CQ DE QRVTZ K".to_string(), None)]);
    let [first, second] = &asked(true)[..] else {
        panic!("{:?}", asked(true));
    };
    assert_eq!((first, second.0.as_str()), (&printed, "CQ DE QRNTZ K"));
    let maybe = second.1.unwrap();
    assert!((0.1..0.3).contains(&maybe), "{maybe}");
}
