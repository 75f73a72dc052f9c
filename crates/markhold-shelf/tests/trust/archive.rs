//! The archive: damaged, copied, taken elsewhere, checked.

use super::*;

#[test]
fn a_damaged_archive_is_set_aside_and_made_again() {
    let letter = "Dear friends of the marsh, ".repeat(500);
    type Harm = fn(&mut Vec<u8>);
    let harms: [(&str, Harm); 4] = [
        ("no byte is left", |bytes| bytes.clear()),
        ("the first page is gone", |bytes| bytes[..4096].fill(0)),
        ("all but the first page is gone", |bytes| {
            bytes[4096..].fill(0x5a)
        }),
        ("half of it", |bytes| {
            bytes.truncate(bytes.len() / 2 / 4096 * 4096)
        }),
    ];
    let mut cases: Vec<(&str, Vec<u8>)> = Vec::new();
    let made = tempfile::tempdir().unwrap();
    keep(made.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
    for (name, harm) in harms {
        let mut bytes = std::fs::read(archive(made.path())).unwrap();
        harm(&mut bytes);
        cases.push((name, bytes));
    }
    cases.push(("a letter in its place", letter.into_bytes()));
    for (name, bytes) in cases {
        let folder = tempfile::tempdir().unwrap();
        keep(folder.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
        for behind in ["-wal", "-shm"] {
            let _ = std::fs::remove_file(folder.path().join(format!("{FILE}{behind}")));
        }
        std::fs::write(archive(folder.path()), &bytes).unwrap();
        let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
        give(&keeper, &ramp(0, 16_000));
        say(&keeper, "TONIGHT");
        let notice = wait_for(&keeper, |n| matches!(n, KeepNotice::SetAside { .. }));
        let KeepNotice::SetAside { file } = &notice else {
            unreachable!("just seen")
        };
        let aside = file.as_ref().map(|file| std::fs::read(file).unwrap());
        assert_eq!(
            aside.unwrap_or_default(),
            bytes,
            "{name}: nothing of it is lost"
        );
        wait_until(&keeper, |state| state.copy == Kept::Yes);
        keeper.finish().unwrap();
        let shelf = Shelf::open(folder.path()).unwrap();
        assert_eq!(
            (sound_s(&shelf, 1), sound_s(&shelf, 2)),
            (2.0, 2.0),
            "{name}"
        );
        let first = shelf.evening(1).unwrap();
        assert_eq!(first.begin.timestamp().to_string(), "2026-03-20T19:00:00Z");
        assert_eq!(first.input, "receiver on the marsh");
        assert!(
            first.gaps.is_empty(),
            "it ended in good order: {:?}",
            first.gaps
        );
        assert_eq!(found(&shelf, "tonight"), 1, "{name}");
        assert!(shelf.check().unwrap().is_well(), "{name}");
    }
}

#[test]
fn the_daily_copy_gives_the_copy_back() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
    let caring = KeepSettings {
        care: true,
        ..settings()
    };
    let keeper = Keeper::begin(folder.path(), evening(), caring).unwrap();
    give(&keeper, &ramp(0, 16_000));
    let begin = Instant::now();
    let copies = folder.path().join("copies");
    let made = || std::fs::read_dir(&copies).is_ok_and(|entries| entries.count() == 1);
    // Who makes it stands back behind all others: on a busy machine that takes a while.
    while !made() {
        assert!(begin.elapsed() < Duration::from_secs(180), "no copy");
        std::thread::sleep(Duration::from_millis(20));
    }
    keeper.finish().unwrap();
    std::fs::write(archive(folder.path()), b"Dear friends of the marsh").unwrap();
    let _ = std::fs::remove_file(folder.path().join(format!("{FILE}-wal")));
    let keeper = Keeper::begin(folder.path(), evening(), settings()).unwrap();
    give(&keeper, &ramp(0, 16_000));
    wait_until(&keeper, |state| state.copy == Kept::Yes);
    keeper.finish().unwrap();
    let shelf = Shelf::open(folder.path()).unwrap();
    assert_eq!(found(&shelf, "marsh"), 1);
    assert_eq!(shelf.evenings(None, None, 10).unwrap().len(), 3);
}

/// Copies the folder of a shelf's only evening onto another shelf.
fn hand_over(from: &Path, to: &Path) {
    let evening = std::fs::read_dir(from.join("sound")).unwrap().next();
    let evening = evening.unwrap().unwrap();
    let there = to.join("sound").join(evening.file_name());
    std::fs::create_dir_all(&there).unwrap();
    for file in std::fs::read_dir(evening.path()).unwrap() {
        let file = file.unwrap();
        std::fs::copy(file.path(), there.join(file.file_name())).unwrap();
    }
}

/// Station, evening, signal and id name a character on every machine.
#[test]
fn an_evening_made_again_elsewhere_stays_that_of_its_station() {
    let places = [(); 3].map(|()| tempfile::tempdir().unwrap());
    let [first, second, third] = places.each_ref().map(|place| place.path());
    keep(first, "2026-03-21T20:30:05+01:00[Europe/Berlin]", "FIRST");
    keep(second, "2026-03-22T20:30:05+01:00[Europe/Berlin]", "SECOND");
    let own = Shelf::open(first).unwrap();
    let station = own.station().unwrap();
    let character = common::characters::character(1, 0.5, 'A', false);
    let key = own.key(1, &character).unwrap();
    assert_eq!((key.station, key.evening), (station, 1));
    drop(own);
    // Where there is nothing yet, and where its number is another evening's.
    for (place, number) in [(third, 1), (second, 2)] {
        hand_over(first, place);
        let shelf = Shelf::open(place).unwrap();
        assert_ne!(shelf.station().unwrap(), station);
        let evening = shelf.evening(number).unwrap();
        assert_eq!((evening.station, evening.number), (station, 1));
        assert_eq!(shelf.key(number, &character).unwrap(), key);
        assert!((sound_s(&shelf, number) - 2.0).abs() < 1e-9);
    }
    let shelf = Shelf::open(second).unwrap();
    let mine = shelf.evening(1).unwrap();
    assert_eq!((mine.station, mine.number), (shelf.station().unwrap(), 1));
    // Its own archive lost: a new one has another name, the evening keeps its own.
    std::fs::remove_file(archive(first)).unwrap();
    let again = Shelf::open(first).unwrap();
    assert_ne!(again.station().unwrap(), station);
    assert_eq!(again.key(1, &character).unwrap(), key);
}

#[test]
fn an_archive_without_a_byte_is_said_to_be_one() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(archive(folder.path()), b"").unwrap();
    let error = Shelf::open(folder.path())
        .err()
        .expect("it is none")
        .to_string();
    assert!(error.contains("it is empty, not one byte"), "{error}");
    assert_eq!(std::fs::read(archive(folder.path())).unwrap(), b"");
}

#[test]
fn a_check_reads_the_sound_and_keeps_to_its_folder() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
    let shelf = Shelf::open(folder.path()).unwrap();
    assert!(shelf.check().unwrap().is_well());
    let path = shelf.sound(1).unwrap().remove(0).1;
    let whole = std::fs::read(&path).unwrap();
    std::fs::write(&path, &whole[..whole.len() - 2_000]).unwrap();
    let unsound = shelf.check().unwrap().unsound;
    assert!(
        unsound[0].1.contains("1000 samples are missing"),
        "{unsound:?}"
    );
    std::fs::write(&path, b"Dear friends of the marsh, it rains").unwrap();
    let unsound = shelf.check().unwrap().unsound;
    assert!(unsound[0].1.contains("not a sound file"), "{unsound:?}");
    drop(shelf);
    // An archive that names files elsewhere, to be read or to be removed.
    let outside = folder.path().join("letter.wav");
    std::fs::write(&outside, &whole).unwrap();
    let other = rusqlite::Connection::open(archive(folder.path())).unwrap();
    other
        .execute_batch("UPDATE segments SET file = '../../letter.wav'")
        .unwrap();
    drop(other);
    let shelf = Shelf::open(folder.path()).unwrap();
    let checked = shelf.check().unwrap();
    assert_eq!(checked.astray, ["2026-03-20-190000Z/../../letter.wav"]);
    assert!(shelf.sound(1).unwrap().is_empty());
    drop(shelf);
    let small = KeepSettings {
        sound_bytes: 10_000,
        segment_s: 1.0,
        ..settings()
    };
    let keeper = Keeper::begin(folder.path(), evening(), small).unwrap();
    give(&keeper, &ramp(0, 16_000));
    wait_until(&keeper, |state| state.copy == Kept::Yes);
    keeper.finish().unwrap();
    assert!(outside.exists());
}

/// A pipe in the place of a file is waited for without end by who opens it.
#[cfg(unix)]
#[test]
fn a_pipe_hangs_nothing() {
    let folder = tempfile::tempdir().unwrap();
    keep(folder.path(), "2026-03-20T19:00:00Z[UTC]", "WET MARSH");
    let sound = folder.path().join("sound/2026-03-20-190000Z");
    let pipe = |path: PathBuf| {
        let _ = std::fs::remove_file(&path);
        let made = std::process::Command::new("mkfifo").arg(&path).status();
        assert!(made.unwrap().success());
    };
    pipe(sound.join("0001-190000Z.wav"));
    pipe(sound.join("0002-190000Z.wav"));
    pipe(sound.join("being-kept"));
    pipe(sound.join("evening.jsonl"));
    let (tell, told) = std::sync::mpsc::channel();
    let place = folder.path().to_path_buf();
    std::thread::spawn(move || {
        let archive = rusqlite::Connection::open(archive(&place)).unwrap();
        archive
            .execute_batch("UPDATE evenings SET end_ms = NULL")
            .unwrap();
        drop(archive);
        let shelf = Shelf::open(&place).unwrap();
        let unsound = shelf.check().unwrap().unsound;
        drop(shelf);
        keep(&place, "2026-03-21T19:00:00Z[UTC]", "DRY MARSH");
        tell.send(unsound).unwrap();
        // A pipe in the place of the archive.
        let file = place.join(FILE);
        std::fs::remove_file(&file).unwrap();
        assert!(
            std::process::Command::new("mkfifo")
                .arg(&file)
                .status()
                .unwrap()
                .success()
        );
        assert!(Shelf::open(&place).is_err());
        keep(&place, "2026-03-22T19:00:00Z[UTC]", "MARSH");
        tell.send(Vec::new()).unwrap();
    });
    let unsound = told
        .recv_timeout(Duration::from_secs(30))
        .expect("it does not hang");
    assert_eq!(unsound[0].1, "it is no plain file");
    told.recv_timeout(Duration::from_secs(30))
        .expect("it does not hang");
}
