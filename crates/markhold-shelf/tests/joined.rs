//! Evenings of the shelf joined: lines, who bears them, and what is still missing.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::sending::weekly;
use common::*;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::joined::{Missing, Piece, Which, Why};
use markhold_shelf::{Keeper, Shelf, ShelfError};
use markhold_skeds::watch::{Held, Run, RunState};

const FIRST: &str = "LOW MARSH BULLETIN FOR ALL MEMBERS OF THE CLUB\r\n";
const SECOND: &str = "THE NET WILL BE HEARD AGAIN ON FRIDAY EVENING\r\n";

/// An evening in which both lines were heard, so many s apart.
fn keep(folder: &std::path::Path, begin: &str, pause_s: f64, second: &str) {
    let keeper = Keeper::begin(folder, evening_at(begin), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    let at_s = 0.5 + 0.165 * FIRST.len() as f64 + pause_s;
    // One signal that goes on.
    let mut events = transmission(1, 0.5, FIRST);
    events.pop();
    events.extend(transmission(1, at_s, second).split_off(1));
    events.iter().for_each(|event| keeper.event(event));
    keeper.finish().unwrap();
}

fn shelf(evenings: &[(f64, &str)]) -> (tempfile::TempDir, Shelf) {
    let folder = tempfile::tempdir().unwrap();
    for (day, (pause_s, second)) in (21..).zip(evenings) {
        let begin = format!("2026-03-{day}T20:30:05+01:00[Europe/Berlin]");
        keep(folder.path(), &begin, *pause_s, second);
    }
    let shelf = Shelf::open(folder.path()).unwrap();
    (folder, shelf)
}

fn all(shelf: &Shelf, evenings: i64) -> markhold_shelf::joined::Joined {
    let which = |evening| Which {
        evening,
        signal: None,
    };
    let asked: Vec<Which> = (1..=evenings).map(which).collect();
    shelf.join(&asked).unwrap()
}

fn text(pieces: &[Piece]) -> String {
    let glyph = |p: &Piece| match p {
        Piece::Character { glyph, .. } => *glyph,
        Piece::Variant(_) => '#',
    };
    pieces.iter().map(glyph).collect()
}

#[test]
fn lines_come_with_those_who_bear_them() {
    let (_folder, shelf) = shelf(&[(0.0, SECOND), (0.0, "")]);
    let joined = all(&shelf, 2);
    let lines = joined.lines(&joined.joints[0]);
    let texts: Vec<String> = lines.iter().map(|l| text(&l.pieces)).collect();
    assert_eq!(texts, [FIRST.trim(), SECOND.trim()]);
    let borne: Vec<[bool; 2]> = lines
        .iter()
        .map(|l| [0, 1].map(|k| l.is_borne_by(k)))
        .collect();
    assert_eq!(borne, [[true, true], [true, false]]);
    assert_eq!(joined.missing(&joined.joints[0]), []);
}

#[test]
fn a_pause_in_all_copies_may_be_a_loss_and_one_that_another_fills_is_none() {
    let (_folder, shelf) = shelf(&[(9.0, SECOND), (12.0, SECOND)]);
    let joined = all(&shelf, 2);
    let [Missing { why, .. }] = joined.missing(&joined.joints[0])[..] else {
        panic!("{:?}", joined.missing(&joined.joints[0]));
    };
    // From the last character's begin to the next one's.
    assert!(
        matches!(why, Why::Silent(s) if (s - 9.165).abs() < 0.01),
        "{why:?}"
    );
    let (_folder, shelf) = self::shelf(&[(9.0, SECOND), (0.0, SECOND)]);
    let joined = all(&shelf, 2);
    assert_eq!(joined.missing(&joined.joints[0]), []);
}

#[test]
fn what_both_doubt_is_a_passage_that_is_missing() {
    let doubted = "THE NET WILL BE H?E?A?R?D?1?1 AGAIN ON FRIDAY EVENING\r\n";
    let (_folder, shelf) = shelf(&[(0.0, doubted), (0.0, &doubted.replace("H?E?A", "X?Y?Z"))]);
    let joined = all(&shelf, 2);
    let joint = &joined.joints[0];
    let missing = joined.missing(joint);
    let passages: Vec<&Missing> = missing.iter().filter(|m| m.is_passage()).collect();
    assert_eq!(passages.len(), 0, "two agree on most of it: {missing:?}");
    let doubtful: usize = missing.iter().map(Missing::doubtful).sum();
    assert!((1..=4).contains(&doubtful), "{missing:?}");
    assert!(
        missing
            .iter()
            .all(|m| m.line(&joined.lines(joint)) == Some(1))
    );
}

#[test]
fn a_sked_names_its_repeats_and_the_next_chance() {
    let (_folder, mut shelf) = shelf(&[(0.0, SECOND), (0.0, SECOND), (0.0, SECOND)]);
    let at = |time: &str| time.parse::<Timestamp>().unwrap();
    let one = shelf
        .add_sked(&weekly("Europe/London", "2026-01-05T20:00:00"))
        .unwrap();
    let other = shelf
        .add_sked(&weekly("Europe/London", "2026-01-06T07:00:00"))
        .unwrap();
    let run = |sked: i64, day: &str, kept_in: Vec<(i64, Vec<u32>)>| Run {
        sked,
        title: "Q1LMC bulletin".into(),
        begins: at(&format!("2026-03-{day}T19:30:00Z")),
        ends: at(&format!("2026-03-{day}T19:50:00Z")),
        held: Held::default(),
        state: RunState::Kept,
        cause: String::new(),
        kept_in,
        last_heard: None,
        heard_for: SignedDuration::ZERO,
    };
    // The third is another sked's; evening 9 is gone from the shelf, signal 4 was never copied.
    let runs = [
        run(one, "21", vec![(1, vec![1]), (9, vec![1])]),
        run(one, "22", vec![(2, vec![1, 4])]),
        run(other, "23", vec![(3, vec![1])]),
    ];
    runs.iter().for_each(|run| shelf.keep_run(run).unwrap());
    let kept = |skeds: &[i64], from: &str| -> Vec<i64> {
        let kept = shelf.kept_of_skeds(skeds, at(from)).unwrap();
        assert!(kept.iter().all(|w| w.signal == Some(1)));
        kept.iter().map(|w| w.evening).collect()
    };
    assert_eq!(kept(&[one], "2026-03-01T00:00:00Z"), [1, 2]);
    assert_eq!(kept(&[one, other], "2026-03-22T00:00:00Z"), [2, 3]);
    // Mondays at 20:00 and Tuesdays at 07:00; the 23rd is a Monday.
    let next = |after: &str| shelf.next_chance(&[one, other], at(after)).unwrap();
    assert_eq!(
        next("2026-03-22T00:00:00Z"),
        Some((one, at("2026-03-23T20:00:00Z")))
    );
    assert_eq!(
        next("2026-03-23T21:00:00Z"),
        Some((other, at("2026-03-24T07:00:00Z")))
    );
    assert_eq!(
        shelf.next_chance(&[], at("2026-03-22T00:00:00Z")).unwrap(),
        None
    );
    assert!(
        shelf
            .kept_of_skeds(&[77], at("2026-03-22T00:00:00Z"))
            .is_err()
    );
}

#[test]
fn a_signal_that_is_not_there_is_an_error() {
    let (_folder, shelf) = shelf(&[(0.0, SECOND)]);
    let asked = [Which {
        evening: 1,
        signal: Some(7),
    }];
    let error = shelf.join(&asked).unwrap_err();
    assert!(matches!(error, ShelfError::NoSignal { .. }), "{error}");
    assert_eq!(error.to_string(), "evening 1 has no signal 7 with copy");
}
