//! What a sked sends is put together by itself, one more copy after the other.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::sending::weekly;
use common::*;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::{Keeper, Shelf};
use markhold_skeds::watch::{Held, Run, RunState};
use std::path::Path;

const HEAD: &str = "LOW MARSH BULLETIN FOR ALL MEMBERS OF THE CLUB\r\n";
const BODY: &str = "THE NET WILL BE HEARD AGAIN ON FRIDAY EVENING\r\n\
                    RIBBONS ARE SOLD AT THE HUT BESIDE THE RIVER\r\n";
const OLD: &str = "NO MEETING TONIGHT BECAUSE OF THE STORM WHICH TOOK OUR MAST\r\n\
                   TEA WAS SERVED ALL THE SAME AND SPARE KEYS WERE GIVEN AWAY\r\n";

fn keep(folder: &Path, day: u32, text: &str) {
    let begin = format!("2026-03-{day:02}T20:30:05+00:00[UTC]");
    let keeper = Keeper::begin(folder, evening_at(&begin), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    let events = transmission(1, 0.5, text);
    events.iter().for_each(|event| keeper.event(event));
    keeper.finish().unwrap();
}

fn run(sked: i64, day: u32, evening: i64) -> Run {
    let at = |time: &str| format!("2026-03-{day:02}T{time}Z").parse().unwrap();
    Run {
        sked,
        title: "bulletin".into(),
        begins: at("20:30:00"),
        ends: at("20:50:00"),
        held: Held::default(),
        state: RunState::Kept,
        cause: String::new(),
        kept_in: vec![(evening, vec![1])],
        last_heard: None,
        heard_for: SignedDuration::ZERO,
    }
}

#[test]
fn one_more_copy_makes_it_anew() {
    let folder = tempfile::tempdir().unwrap();
    let doubted = BODY
        .replace("RIBBONS", "R?I?B?BONS")
        .replace("RIVER", "R?I?V?E?R");
    keep(folder.path(), 12, &format!("{HEAD}{OLD}"));
    keep(folder.path(), 19, &format!("{HEAD}{doubted}"));
    keep(folder.path(), 20, &format!("{HEAD}{BODY}"));
    let mut shelf = Shelf::open(folder.path()).unwrap();
    let now: Timestamp = "2026-03-21T08:00:00Z".parse().unwrap();
    let thursday = shelf
        .add_sked(&weekly("UTC", "2026-01-01T20:30:00"))
        .unwrap();
    let friday = shelf
        .add_sked(&weekly("UTC", "2026-01-02T20:30:00"))
        .unwrap();
    assert_eq!(shelf.make_known(now).unwrap(), [0; 0]);
    assert_eq!(shelf.known(thursday).unwrap(), None);

    shelf.keep_run(&run(thursday, 12, 1)).unwrap();
    shelf.keep_run(&run(thursday, 19, 2)).unwrap();
    assert_eq!(shelf.known(thursday).unwrap(), None);
    let only_read = shelf.known_by_now(thursday, now).unwrap();
    assert_eq!(shelf.known(thursday).unwrap(), None, "nothing was kept");
    assert_eq!(shelf.make_known(now).unwrap(), [thursday]);
    assert_eq!(only_read, shelf.known(thursday).unwrap());
    assert_eq!(shelf.known_by_now(thursday, now).unwrap(), only_read);
    let known = shelf.known(thursday).unwrap().unwrap();
    // The week before has the head in common and is another bulletin.
    let copies = |known: &markhold_shelf::Known| -> Vec<i64> {
        known.copies.iter().map(|c| c.evening).collect()
    };
    assert_eq!(copies(&known), [2]);
    assert_eq!(
        known.lines[2],
        "[RIB]BONS ARE SOLD AT THE HUT BESIDE THE [RIVE]R"
    );
    assert_eq!((known.doubtful, known.missing[0].doubtful), (7, 7));
    assert_eq!(shelf.make_known(now).unwrap(), [0; 0], "nothing new");

    // The other sked of that name repeats it.
    shelf.keep_run(&run(friday, 20, 3)).unwrap();
    assert_eq!(shelf.make_known(now).unwrap(), [thursday]);
    for sked in [thursday, friday] {
        let known = shelf.known(sked).unwrap().unwrap();
        assert_eq!(copies(&known), [2, 3]);
        let sent = [HEAD, BODY].concat();
        let lines: Vec<&str> = sent.split("\r\n").filter(|l| !l.is_empty()).collect();
        assert_eq!(known.lines, lines);
        assert_eq!((known.doubtful, &known.missing[..]), (0, &[][..]));
        assert_eq!(known.made, now);
    }
    assert!(shelf.known(77).is_err());
    // Who deletes an evening deletes it here too.
    shelf.remove(3).unwrap();
    assert_eq!(shelf.known(thursday).unwrap(), None);
    shelf.make_known(now).unwrap();
    let known = shelf.known(thursday).unwrap().unwrap();
    assert_eq!((copies(&known), known.doubtful), (vec![2], 7));
}
