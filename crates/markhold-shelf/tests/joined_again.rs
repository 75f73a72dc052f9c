//! A copy that does not go with the others is looked at again, in its own sound.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::sending::{scene, sound};
use common::*;
use markhold_air::Scene;
use markhold_event::Event;
use markhold_receive::{Receiver, Settings};
use markhold_shelf::joined::{Joined, Piece, Which};
use markhold_shelf::{Keeper, Shelf};
use std::path::Path;

const TEXT: &str =
    "LOW MARSH BULLETIN FOR ALL MEMBERS OF THE CLUB THE NET WILL BE HEARD AGAIN ON FRIDAY";
/// Characters from the begin that one copy lacks.
const LACKED: usize = 14;

fn sound_of(seed: u64) -> Vec<f32> {
    let scene = scene(TEXT);
    sound(Scene { seed, ..scene }, RATE)
}

fn read(sound: &[f32]) -> Vec<Event> {
    let mut events = Vec::new();
    let mut receiver = Receiver::new(f64::from(RATE), Settings::default()).unwrap();
    receiver.process(sound, &mut |event| events.push(event));
    receiver.finish(&mut |event| events.push(event));
    events
}

/// Without the first characters, as by a receiver that found the signal late.
fn late(events: Vec<Event>) -> Vec<Event> {
    let mut passed = 0;
    let keep = |event: &Event| {
        let character = matches!(event, Event::Character(_));
        passed += usize::from(character);
        !character || passed > LACKED
    };
    events.into_iter().filter(keep).collect()
}

fn keep(folder: &Path, day: u32, sound: &[f32], events: Vec<Event>) {
    let begin = format!("2026-03-{day}T20:30:05+01:00[Europe/Berlin]");
    let keeper = Keeper::begin(folder, evening_at(&begin), settings()).unwrap();
    give(&keeper, sound);
    events.iter().for_each(|event| keeper.event(event));
    keeper.finish().unwrap();
}

fn text(joined: &Joined) -> String {
    let lines = joined.lines(&joined.joints[0]);
    let glyph = |piece: &Piece| match piece {
        Piece::Character { glyph, .. } => Some(*glyph),
        Piece::Variant(_) => None,
    };
    let pieces = lines.iter().flat_map(|line| &line.pieces);
    pieces.filter_map(glyph).collect()
}

/// How many characters both bear.
fn borne(joined: &Joined) -> usize {
    let characters = joined.joints[0].characters.iter();
    characters.filter(|c| c.bearers().count() == 2).count()
}

fn asked() -> [Which; 2] {
    [1, 2].map(|evening| Which {
        evening,
        signal: None,
    })
}

#[test]
fn what_does_not_go_together_is_heard_again() {
    let folder = tempfile::tempdir().unwrap();
    let [one, other] = [1, 2].map(sound_of);
    keep(folder.path(), 21, &one, read(&one));
    keep(folder.path(), 22, &other, late(read(&other)));
    let shelf = Shelf::open(folder.path()).unwrap();
    let before = shelf.join(&asked()).unwrap();
    assert!(before.looked.is_empty() && borne(&before) <= TEXT.len() - LACKED);

    let mut told = 0;
    let joined = shelf
        .join_again(&asked(), &mut |_, _, _| told += 1)
        .unwrap();
    assert_eq!(text(&joined), TEXT);
    let [looked] = joined.looked[..] else {
        panic!("{:?}", joined.looked);
    };
    assert!(looked.better && looked.copy == 1 && told == 1, "{looked:?}");
    // From the begin to where they go together.
    let first = joined.copies[0].character(LACKED).start_s;
    assert!((looked.until_s - first).abs() < 0.5, "{looked:?} {first}");
    // All that was sent is borne by both, each character under a name of its own.
    assert!(borne(&joined) >= TEXT.len());
    let ids: Vec<u32> = joined.copies[1].characters.iter().map(|c| c.id.0).collect();
    assert!(ids.windows(2).all(|w| w[0] < w[1]), "{ids:?}");
    // The archive stays as it was.
    assert_eq!(shelf.join(&asked()).unwrap().joints, before.joints);
}

#[test]
fn where_no_sound_is_left_it_stays_as_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let [one, other] = [1, 2].map(sound_of);
    keep(folder.path(), 21, &one, read(&one));
    keep(folder.path(), 22, &other, late(read(&other)));
    let shelf = Shelf::open(folder.path()).unwrap();
    for (_, file) in shelf.sound(2).unwrap() {
        std::fs::remove_file(file).unwrap();
    }
    let before = shelf.join(&asked()).unwrap();
    let joined = shelf.join_again(&asked(), &mut |_, _, _| {}).unwrap();
    assert!(joined.looked.is_empty());
    assert_eq!(joined.joints, before.joints);
}
