//! The shelf: details of kept lines, words looked for, and everything that may be damaged in
//! its folder.

use super::{refused, seeds, size, went};
use crate::{Target, Went};
use markhold_event::{Event, SignalId};
use markhold_receive::{Receiver, Settings};
use markhold_shelf::{Evening, Filter, KeepSettings, Keeper, Shelf, ShelfError, unpack};
use std::cell::OnceCell;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use tempfile::TempDir;

/// Lines of the layouts.
const LINES: [&[u8]; 6] = [
    include_bytes!("../../../../fuzz/seeds/fuzz_details/layout-1-1"),
    include_bytes!("../../../../fuzz/seeds/fuzz_details/layout-1-2"),
    include_bytes!("../../../../fuzz/seeds/fuzz_details/layout-1-3"),
    include_bytes!("../../../../fuzz/seeds/fuzz_details/layout-2-1"),
    include_bytes!("../../../../fuzz/seeds/fuzz_details/layout-2-2"),
    include_bytes!("../../../../fuzz/seeds/fuzz_details/layout-2-3"),
];

pub const DETAILS: Target = Target {
    name: "details",
    try_bytes: details,
    seeds: || LINES.map(<[u8]>::to_vec).into(),
    words: &[],
    longest: 1 << 14,
};

/// The details of a kept line: characters or an error, and what was unpacked makes sense.
fn details(bytes: &[u8]) -> Went {
    let entries = match unpack(bytes, SignalId(1)) {
        Ok(entries) => entries,
        Err(error) => return refused(error),
    };
    // An entry takes four bytes at least, and one byte says how they are laid out.
    assert!(entries.is_empty() || 4 * entries.len() < bytes.len());
    for character in entries.iter().map(|entry| entry.character()) {
        let sum: f32 = character
            .codes
            .map_or(1.0, |codes| codes.shares().iter().sum());
        assert!((sum - 1.0).abs() < 1e-4, "{character:?}");
        let others = character.alternatives.map(|other| other.probability);
        let witnesses = character.witnesses.map(|both| {
            let each = [both.signal.probability, both.both.probability];
            [each[0], each[1], both.from_signal, both.prose]
        });
        let own = [
            character.probability,
            character.present,
            others[0],
            others[1],
        ];
        for probability in own.into_iter().chain(witnesses.into_iter().flatten()) {
            assert!((0.0..=1.0).contains(&probability), "{character:?}");
        }
        assert!(character.start_s.is_finite(), "{character:?}");
    }
    went((size(entries.len()), bytes.first()))
}

pub const SEARCH: Target = Target {
    name: "search",
    try_bytes: search,
    seeds: || {
        seeds(&[
            "Q1ABC",
            "\"two words\"",
            "har*",
            "RYRY -x",
            "NEAR(a b)",
            "caf\u{e9}",
        ])
    },
    words: &[
        "\"", "*", "AND", "OR", "NOT", "NEAR(", ")", "^", ":", "-", "{", "\u{0}", "'", "--",
    ],
    longest: 256,
};

thread_local! {
    static SHELF: OnceCell<(TempDir, Shelf)> = const { OnceCell::new() };
}

/// Anything typed into a search: lines, or that there is no word in it; never an error of the
/// data base.
fn search(bytes: &[u8]) -> Went {
    let typed = String::from_utf8_lossy(bytes);
    SHELF.with(|shelf| {
        let (_, shelf) = shelf.get_or_init(|| {
            let folder = copy_of_shelf();
            let shelf = Shelf::make(folder.path()).expect("a shelf");
            (folder, shelf)
        });
        let filter = Filter {
            alternatives: true,
            ..Filter::default()
        };
        match shelf.search(&typed, &filter) {
            Ok(hits) => went(hits.len().min(3)),
            Err(ShelfError::NothingToSearch { .. }) => went(99),
            Err(error) => panic!("{typed:?}: {error}"),
        }
    })
}

pub const ARCHIVE: Target = Target {
    name: "archive",
    try_bytes: |bytes| damaged("markhold.sqlite", bytes),
    seeds: || files("markhold.sqlite"),
    words: &[
        "SQLite format 3",
        "CREATE TABLE",
        "evenings",
        "../../",
        "sound/",
    ],
    longest: 1 << 20,
};

pub const NOTES: Target = Target {
    name: "notes",
    // Notes are read where the archive is gone.
    try_bytes: |bytes| damaged("evening.jsonl", bytes),
    seeds: || files("evening.jsonl"),
    words: &[
        "null",
        "\n",
        "{",
        "}",
        "\"",
        ":",
        ",",
        "-1",
        "9223372036854775807",
        "1e308",
        "true",
        "../",
        "\"zone\"",
        "\"begin\"",
        "\"rate\"",
        "0",
    ],
    longest: 1 << 14,
};

pub const KEPT_SOUND: Target = Target {
    name: "kept",
    try_bytes: |bytes| damaged(".wav", bytes),
    seeds: || files(".wav"),
    words: &["RIFF", "WAVE", "fmt ", "data", "bext"],
    longest: 1 << 15,
};

/// A shelf whose file of this ending was put in place of by these bytes: it is opened, or it
/// is said why not; where notes or sound are damaged the archive is gone as well, and made
/// again from them.
fn damaged(ending: &str, bytes: &[u8]) -> Went {
    let folder = copy_of_shelf();
    for file in below(folder.path()) {
        let name = file.to_string_lossy();
        if name.ends_with(ending) {
            std::fs::write(&file, bytes).expect("room");
        } else if name.contains("markhold.sqlite") {
            std::fs::remove_file(&file).expect("it is there");
        }
    }
    let shelf = match Shelf::open(folder.path()) {
        Ok(shelf) => shelf,
        Err(error) => return refused(error),
    };
    let evenings = shelf.evenings(None, None, 10);
    let sounds = evenings.iter().flatten().map(|evening| {
        let known = format!("{evening:?}").len() / 16;
        (
            known,
            shelf.sound(evening.id).map(|s| s.len()).map_err(refused),
        )
    });
    let sounds: Vec<_> = sounds.collect();
    let found = shelf.search("ryry", &Filter::default());
    let checked = shelf.check().map(|c| {
        let found = [
            c.damage.len(),
            c.missing.len(),
            c.unsound.len(),
            c.astray.len(),
        ];
        found.map(|count| count.min(2))
    });
    drop(shelf);
    went((
        evenings.map(|e| e.len()).map_err(refused),
        found.map(|f| f.len()).map_err(refused),
        checked.map_err(refused),
        sounds,
    ))
}

/// A small shelf with an evening, made once.
fn shelf() -> &'static Path {
    static MADE: OnceLock<TempDir> = OnceLock::new();
    let made = MADE.get_or_init(|| {
        let folder = folder();
        let evening = Evening {
            begin: "2026-03-21T20:30:05+01:00[Europe/Berlin]"
                .parse()
                .expect("a time"),
            input: "receiver on the marsh".into(),
            rate: 8000,
            settings: serde_json::json!({"all": true}),
        };
        let settings = KeepSettings {
            spare_bytes: 0,
            care: false,
            ..KeepSettings::default()
        };
        let keeper = Keeper::begin(folder.path(), evening, settings).expect("threads");
        let sound = super::receiver::sounding();
        let mut receiver = Receiver::new(8000.0, Settings::default()).expect("a rate");
        let mut keep = |event: Event| keeper.event(&event);
        receiver.process(&sound, &mut keep);
        receiver.finish(&mut keep);
        // The sound itself may be short: what matters is that it is there.
        keeper.sound(&sound[..4000]);
        keeper.finish().expect("it is kept");
        folder
    });
    made.path()
}

/// A copy of it to damage.
fn copy_of_shelf() -> TempDir {
    let copy = folder();
    for file in below(shelf()) {
        let within = file.strip_prefix(shelf()).expect("it is below");
        let to = copy.path().join(within);
        std::fs::create_dir_all(to.parent().expect("a folder")).expect("room");
        std::fs::copy(&file, to).expect("room");
    }
    copy
}

/// A folder, in memory where there is a place for that: the disk is not what is tried.
fn folder() -> TempDir {
    let memory = Path::new("/dev/shm");
    TempDir::new_in(memory)
        .or_else(|_| TempDir::new())
        .expect("a folder")
}

/// All files below a folder.
fn below(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_path_buf()];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
            match entry.file_type() {
                Ok(kind) if kind.is_dir() => folders.push(entry.path()),
                Ok(kind) if kind.is_file() => found.push(entry.path()),
                _ => {}
            }
        }
    }
    found
}

fn files(ending: &str) -> Vec<Vec<u8>> {
    let files = below(shelf()).into_iter();
    let files = files.filter(|file| file.to_string_lossy().ends_with(ending));
    files.filter_map(|file| std::fs::read(file).ok()).collect()
}
