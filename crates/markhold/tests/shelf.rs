//! `markhold shelf` as a script sees it: an evening put on the shelf, found again, handed
//! on and copied again.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use serde_json::Value;
use std::sync::OnceLock;

/// A shelf with two short evenings, made once for all tests that only read.
struct Kept {
    folder: tempfile::TempDir,
}

impl Kept {
    fn new() -> Kept {
        let folder = tempfile::tempdir().unwrap();
        let kept = Kept { folder };
        for (name, text, begin) in [
            (
                "one.wav",
                "BULLETIN OF THE LOW MARSH CLUB\nNET AT NINE\n",
                "2026-03-21T19:30:00Z",
            ),
            (
                "two.wav",
                "CQ CQ DE Q1ABC Q1ABC\nGOOD EVENING (ALL)\n",
                "2026-03-22T23:59:50Z",
            ),
        ] {
            let more = [
                "--begin", begin, "--es-n0", "15", "--seed", "3", "--lead", "2",
            ];
            let path = recording(&kept.folder, name, text, &more);
            let done = kept.shelf(&["add", &path]);
            assert_eq!(done.code, 0, "{}", done.err);
        }
        kept
    }

    /// The same for every test that only reads.
    fn read_only() -> &'static Kept {
        static KEPT: OnceLock<Kept> = OnceLock::new();
        KEPT.get_or_init(Kept::new)
    }

    fn place(&self) -> String {
        self.folder.path().join("shelf").display().to_string()
    }

    fn shelf(&self, words: &[&str]) -> Done {
        let place = self.place();
        let mut command = command(["shelf", "--utc", "--shelf", &place]);
        command.args(words).env("TZ", "Europe/Berlin");
        // No settings of whoever runs the tests.
        command.env("XDG_CONFIG_HOME", self.folder.path());
        done(command.output().unwrap())
    }

    fn json(&self, words: &[&str]) -> Vec<Value> {
        self.shelf(words).json()
    }
}

#[test]
fn evenings_are_listed_in_order() {
    let kept = Kept::read_only();
    let done = kept.shelf(&["list"]);
    let rows: Vec<&str> = done.out.lines().collect();
    assert_eq!(rows.len(), 2, "{}", done.out);
    assert!(
        rows[0].contains("1  2026-03-21 19:30:00 UTC") && rows[0].contains("recording one.wav"),
        "{}",
        rows[0]
    );
    assert!(
        rows[1].contains("2  2026-03-22 23:59:50 UTC"),
        "{}",
        rows[1]
    );
    for (words, found) in [
        (["--from", "2026-03-22"], "[2]"),
        (["--until", "2026-03-21"], "[1]"),
        (["--until", "2026-03-21T19:31"], "[1]"),
    ] {
        let list = kept.json(&["list", "--json", words[0], words[1]]);
        let ids: Vec<i64> = list
            .iter()
            .map(|e| e["evening"].as_i64().unwrap())
            .collect();
        assert_eq!(format!("{ids:?}"), found, "{words:?}");
    }
    assert_eq!(kept.shelf(&["list", "--from", "2027-01-01"]).code, 1);
}

#[test]
fn an_evening_is_shown_by_number_date_and_last() {
    let kept = Kept::read_only();
    for name in ["2", "2026-03-22", "last"] {
        let done = kept.shelf(&["show", name]);
        assert_eq!(done.code, 0, "{}", done.err);
        let lines: Vec<&str> = done.out.lines().collect();
        assert!(lines[0].starts_with("== signal 1: mark"), "{}", done.out);
        // The recording begins ten seconds before midnight; two seconds of noise and one of mark come first.
        assert_eq!(lines[1], "23:59:53  CQ CQ DE Q1ABC Q1ABC", "{}", done.out);
        assert!(lines[2].ends_with("GOOD EVENING (ALL)"), "{}", done.out);
        assert!(done.err.contains("live, by markhold"), "{}", done.err);
    }
    for (name, said) in [
        ("9", "no evening 9"),
        ("2026-03-20", "no evening 2026-03-20"),
        ("tuesday", "expected a number"),
    ] {
        let done = kept.shelf(&["show", name]);
        assert!(done.code == 2 && done.err.contains(said), "{}", done.err);
    }
    let done = kept.shelf(&["show", "1", "--reading", "7"]);
    assert!(
        done.code == 2 && done.err.contains("no reading 7; it has 1"),
        "{}",
        done.err
    );
}

#[test]
fn words_are_found_with_their_evening() {
    let kept = Kept::read_only();
    let done = kept.shelf(&["search", "marsh"]);
    assert_eq!(done.code, 0);
    assert_eq!(
        done.out.trim(),
        "1  2026-03-21 19:30:03 UTC  BULLETIN OF THE LOW MARSH CLUB"
    );
    let hits = kept.json(&["search", "--json", "q1"]);
    assert_eq!((hits.len(), &hits[0]["evening"]), (1, &Value::from(2)));
    assert_eq!(hits[0]["text"], "CQ CQ DE Q1ABC Q1ABC");
    for (words, code) in [
        (vec!["nobody"], 1),
        (vec!["marsh", "--from", "2026-03-22"], 1),
        (vec!["NEAR(", "\"", "*"], 1),
        (vec!["--", "-"], 2),
    ] {
        let done = kept.shelf(&[vec!["search"], words.clone()].concat());
        assert_eq!(done.code, code, "{words:?}: {}", done.err);
        assert!(!done.err.contains("syntax"), "{}", done.err);
    }
}

#[test]
fn exports_hold_the_copy() {
    let kept = Kept::read_only();
    let text = kept.shelf(&["export", "2", "--format", "text", "--out", "-"]);
    let copied = markhold([
        "copy",
        &kept.folder.path().join("two.wav").display().to_string(),
    ]);
    assert_eq!(text.out, copied.out);
    let page = kept
        .shelf(&["export", "2", "--format", "html", "--out", "-"])
        .out;
    assert!(
        page.starts_with("<!doctype html>") && page.contains("<td>GOOD EVENING (ALL)"),
        "{page}"
    );
    let objects = kept.json(&["export", "2", "--format", "jsonl", "--out", "-"]);
    let kinds = |kind: &str| objects.iter().filter(|o| o["type"] == kind).count();
    assert_eq!((kinds("evening"), kinds("signal"), kinds("end")), (1, 1, 1));
    // Character for character what copying the file gives.
    let words = [
        "copy",
        "--all",
        "--json",
        &kept.folder.path().join("two.wav").display().to_string(),
    ];
    let copied = markhold(words).out;
    let of = |o: &Value| {
        (
            o["code"].clone(),
            o["glyph"].clone(),
            o["shift"].clone(),
            o["doubt"].clone(),
        )
    };
    let copied: Vec<_> = copied
        .lines()
        .map(|l| serde_json::from_str::<Value>(l).unwrap())
        .filter(|o| o["type"] == "character")
        .collect();
    let kept_ones: Vec<&Value> = objects
        .iter()
        .filter(|o| o["type"] == "character")
        .collect();
    assert_eq!(copied.len(), kept_ones.len());
    for (a, b) in copied.iter().zip(kept_ones) {
        assert_eq!(of(a), of(b));
        assert!((a["start"].as_f64().unwrap() - b["start"].as_f64().unwrap()).abs() < 2e-4);
        assert!(
            (a["probability"].as_f64().unwrap() - b["probability"].as_f64().unwrap()).abs() < 1e-3
        );
    }
}

#[test]
fn sigmf_holds_every_sample_and_the_times() {
    let kept = Kept::read_only();
    let out = kept.folder.path().join("sigmf");
    let done = kept.shelf(&[
        "export",
        "2",
        "--format",
        "sigmf",
        "--out",
        &out.display().to_string(),
    ]);
    assert_eq!(done.code, 0, "{}", done.err);
    let meta = std::fs::read(out.join("evening-2.sigmf-meta")).unwrap();
    let meta: Value = serde_json::from_slice(&meta).unwrap();
    assert_eq!(
        meta["captures"][0]["core:datetime"],
        "2026-03-22T23:59:50.000000Z"
    );
    // An outside reader (the hound crate) gives the samples that were recorded.
    let data = std::fs::read(out.join("evening-2.sigmf-data")).unwrap();
    let mut wav = hound::WavReader::open(kept.folder.path().join("two.wav")).unwrap();
    let bytes: Vec<u8> = wav
        .samples::<i16>()
        .flat_map(|s| s.unwrap().to_le_bytes())
        .collect();
    assert!(data == bytes);
    let notes = meta["annotations"].as_array().unwrap();
    assert!(
        notes
            .iter()
            .any(|n| n["core:comment"] == "CQ CQ DE Q1ABC Q1ABC")
    );
    // What is there is not written over.
    let done = kept.shelf(&[
        "export",
        "2",
        "--format",
        "sigmf",
        "--out",
        &out.display().to_string(),
    ]);
    assert!(
        done.code == 2 && done.err.contains("evening-2.sigmf-data"),
        "{}",
        done.err
    );
}

#[test]
fn copying_again_makes_a_reading_beside_the_old() {
    let kept = Kept::new();
    let before = kept.shelf(&["show", "1"]);
    let done = kept.json(&["again", "1", "--json"]);
    assert_eq!(done[0]["readings"].as_array().unwrap().len(), 2);
    assert_eq!(
        (&done[0]["best"], &done[0]["readings"][1]["whole"]),
        (&2.into(), &true.into())
    );
    assert_eq!(kept.shelf(&["show", "1"]).out, before.out);
    assert_eq!(kept.shelf(&["show", "1", "--reading", "1"]).out, before.out);
    // A search finds the better reading only, unless all are wanted.
    assert_eq!(kept.json(&["search", "--json", "marsh"]).len(), 1);
    assert_eq!(
        kept.json(&["search", "--json", "--all-readings", "marsh"])
            .len(),
        2
    );
    // A person's choice stands, until it is taken back.
    let done = kept.shelf(&["choose", "1", "1"]);
    assert!(
        done.code == 0 && done.err.contains("stands now: Reading 1 of 2"),
        "{}",
        done.err
    );
    let best = || kept.json(&["list", "--json"])[0]["best"].clone();
    assert_eq!(best(), 1);
    assert_eq!(kept.shelf(&["choose", "1", "best"]).code, 0);
    assert_eq!(best(), 2);
    for (asked, said) in [
        ("3", "no reading 3; it has 2"),
        ("0", "expected a number from 1 on"),
        ("surest", "expected a number from 1 on"),
    ] {
        let done = kept.shelf(&["choose", "1", asked]);
        assert!(done.code == 2 && done.err.contains(said), "{}", done.err);
    }
    assert_eq!(best(), 2, "what cannot be chosen changes nothing");
    // Settings that find nothing cost nothing but a reading.
    let done = kept.shelf(&["again", "1", "--rate", "300"]);
    assert!(
        done.code == 2 && done.err.contains("300 baud"),
        "{}",
        done.err
    );
    let done = kept.shelf(&["check"]);
    assert_eq!(done.code, 0, "{}", done.err);
}

#[test]
fn no_shelf_is_nothing_found_and_none_is_made() {
    let folder = tempfile::tempdir().unwrap();
    let place = folder.path().join("nowhere");
    let done = markhold(["shelf", "list", "--shelf", &place.display().to_string()]);
    assert_eq!(done.code, 1);
    assert!(
        done.err.contains("nothing has been kept in") && !place.exists(),
        "{}",
        done.err
    );
}

#[test]
fn the_usual_place_is_that_of_the_platform() {
    let folder = tempfile::tempdir().unwrap();
    let output = command(["shelf", "list"])
        .env("XDG_DATA_HOME", folder.path())
        .output()
        .unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert!(
        said.contains(&folder.path().join("markhold/shelf").display().to_string()),
        "{said}"
    );
}
