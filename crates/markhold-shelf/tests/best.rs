//! Which reading of an evening stands: the surest of itself, unless a person chose.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use markhold_air::{Air, Noise, Scene, Sender};
use markhold_code::FiguresRow;
use markhold_event::{Event, Sense};
use markhold_receive::{Receiver, Settings};
use markhold_shelf::{Filter, Keeper, Shelf};

const TEXT: &str = "THE MARSH IS WET AND THE PUMP IS DRY SO BRING A BUCKET TO THE NET TONIGHT";

fn kept() -> (tempfile::TempDir, Shelf) {
    let scene = Scene {
        senders: vec![Sender::of_text(TEXT, FiguresRow::Ita2).unwrap()],
        noise: Noise::EsN0Db(20.0),
        ..Scene::default()
    };
    let sound = Air::new(scene, RATE).unwrap().render();
    let sound: Vec<f32> = sound.iter().map(|s| 0.1 * s).collect();
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
