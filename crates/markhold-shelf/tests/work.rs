//! Evenings copied again by several workers that are killed at any moment: each has one new
//! reading in the end, and nothing else is left.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::sending::{scene, sound};
use common::*;
use markhold_receive::Settings;
use markhold_shelf::{Keeper, Shelf, Worked, Worker};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

/// Names the shelf to the program that is to be killed.
const PLACE: &str = "MARKHOLD_WORK_PLACE";
const EVENINGS: i64 = 40;
const TEXT: &str = "THE PUMP IS DRY SO BRING A BUCKET";

fn worker() -> Worker {
    Worker {
        lease: Duration::from_secs(2),
        ..Worker::new()
    }
}

/// Not a test: the program that is killed.
#[test]
fn works_until_it_is_killed() {
    if let Ok(place) = std::env::var(PLACE) {
        worker().work(Path::new(&place), &mut |_| {}).unwrap();
    }
}

fn start(place: &Path) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "works_until_it_is_killed"])
        .env(PLACE, place)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

/// A shelf with sound that no receiver has heard.
fn shelf(evenings: i64) -> tempfile::TempDir {
    let sound = sound(scene(TEXT), RATE);
    let folder = tempfile::tempdir().unwrap();
    for _ in 0..evenings {
        let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
        give(&keeper, &sound);
        keeper.finish().unwrap();
    }
    let mut shelf = Shelf::open(folder.path()).unwrap();
    let all: Vec<(i64, Settings)> = (1..=evenings).map(|e| (e, Settings::default())).collect();
    assert_eq!(shelf.enter_work(&all).unwrap() as i64, evenings);
    folder
}

fn texts(shelf: &Shelf, reading: i64) -> Vec<String> {
    let mut texts = Vec::new();
    shelf
        .lines(reading, &mut |line| texts.push(line.text))
        .unwrap();
    texts
}

#[test]
fn each_evening_is_copied_once_whoever_dies() {
    let folder = shelf(EVENINGS);
    let place = folder.path();
    let mut workers: Vec<Child> = (0..3).map(|_| start(place)).collect();
    let shelf = Shelf::open(place).unwrap();
    let begin = Instant::now();
    // Seeded, but where a kill strikes is up to the computer.
    let (mut chance, mut kills) = (12_345u32, 0);
    while shelf.work().unwrap().left() > 0 {
        assert!(
            begin.elapsed() < Duration::from_secs(300),
            "{:?}",
            shelf.work()
        );
        chance = chance.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        std::thread::sleep(Duration::from_millis(u64::from(chance >> 23) + 100));
        let victim = &mut workers[chance as usize >> 8 & 1];
        // The third one lives: who dies all the time gets nothing done.
        victim.kill().unwrap();
        victim.wait().unwrap();
        *victim = start(place);
        kills += 1;
    }
    for mut worker in workers {
        worker.kill().unwrap();
        worker.wait().unwrap();
    }
    let work = shelf.work().unwrap();
    assert_eq!(
        (work.done, work.given_up),
        (EVENINGS as u64, 0),
        "{kills} kills"
    );
    for evening in 1..=EVENINGS {
        let about = shelf.evening(evening).unwrap();
        let [_live, new] = &about.readings[..] else {
            panic!("{evening}: {:?}", about.readings);
        };
        assert!(
            new.finished && new.whole && about.best == 1,
            "{evening}: {new:?}"
        );
        assert_eq!(texts(&shelf, new.id), [TEXT], "{evening}");
    }
    assert!(kills > 0 && shelf.check().unwrap().damage.is_empty());
}

#[test]
fn what_was_taken_over_is_stored_once_and_what_cannot_be_is_given_up() {
    let folder = shelf(2);
    let shelf = Shelf::open(folder.path()).unwrap();
    std::fs::remove_file(&shelf.sound(1).unwrap()[0].1).unwrap();
    drop(shelf);
    // Two at once: as many threads as it takes to get in each other's way.
    let told = |_| {
        let mut told = Vec::new();
        worker()
            .work(folder.path(), &mut |w| told.push(w.clone()))
            .unwrap();
        told
    };
    let told: Vec<Worked> = std::thread::scope(|scope| {
        let workers = [0, 1].map(|k| scope.spawn(move || told(k)));
        workers.map(|w| w.join().unwrap()).concat()
    });
    let given_up = |w: &&Worked| matches!(w, Worked::GivenUp { evening: 1, .. });
    let stored = |w: &&Worked| matches!(w, Worked::Stored { evening: 2, .. });
    assert_eq!(told.len(), 2, "{told:?}");
    assert!(told.iter().filter(given_up).count() == 1 && told.iter().filter(stored).count() == 1);
    // Nothing is left, so another round may begin.
    let mut shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(shelf.enter_work(&[(2, Settings::default())]).unwrap(), 1);
    assert_eq!(shelf.enter_work(&[(2, Settings::default())]).unwrap(), 0);
    assert_eq!(shelf.work().unwrap().waiting, 1);
}
