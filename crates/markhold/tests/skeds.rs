//! `markhold skeds` as a script sees it.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use serde_json::Value;

struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    fn new() -> Place {
        Place {
            folder: tempfile::tempdir().unwrap(),
        }
    }

    fn skeds(&self, words: &[&str]) -> Done {
        let place = self.folder.path().join("shelf").display().to_string();
        let mut command = command(["skeds", "--shelf", &place]);
        command.args(words).env("TZ", "Europe/Berlin");
        // No settings of whoever runs the tests.
        command.env("XDG_CONFIG_HOME", self.folder.path());
        done(command.output().unwrap())
    }

    fn json(&self, words: &[&str]) -> Vec<Value> {
        self.skeds(words).json()
    }

    fn file(&self, name: &str, text: &str) -> String {
        let path = self.folder.path().join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, text).unwrap();
        path.display().to_string()
    }
}

const BULLETIN: [&str; 14] = [
    "add",
    "Low Marsh bulletin",
    "--station",
    "Q1LMC",
    "--at",
    "2026-01-04T20:00",
    "--zone",
    "Europe/London",
    "--rule",
    "FREQ=WEEKLY;BYDAY=SU",
    "--on",
    "3595.2,mark",
    "--shift",
    "170",
];

#[test]
fn a_sked_is_added_told_changed_and_removed() {
    let place = Place::new();
    let done = place.skeds(&["list"]);
    assert_eq!((done.code, done.out.as_str()), (1, ""), "{}", done.err);
    let done = place.skeds(&BULLETIN);
    assert_eq!(done.code, 0, "{}", done.err);
    assert!(
        done.out
            .contains("Low Marsh bulletin (Q1LMC), 2026-01-04 20:00 Europe/London"),
        "{}",
        done.out
    );
    place.file(
        "markhold/settings.toml",
        "[receiver]\nshows = \"lower-carrier\"\nstep_hz = 100\nwarm_up_min = 45\n",
    );
    // 20:00 in London in July is 21:00 in Berlin and 19:00 UTC; 3595.2 - 0.085 + 2.210 = 3597.325.
    let done = place.skeds(&[
        "next",
        "--most",
        "1",
        "--sums",
        "--now",
        "2026-07-05T17:30:00Z",
    ]);
    assert_eq!(done.code, 0, "{}", done.err);
    for said in [
        "NEXT  Low Marsh bulletin (Q1LMC) in 1 h 30 min: Sun 5 Jul 21:00 CEST, 19:00 UTC",
        "switch the receiver on at 20:15, in 45 min",
        "3595.2 kHz mark: set 3597.30",
        "plain arithmetic",
        "3595.115 + 2.210 = 3597.325 kHz",
    ] {
        assert!(done.out.contains(said), "{said} in\n{}", done.out);
    }
    let on = place.skeds(&["next", "--most", "1", "--now", "2026-07-05T19:10:00Z"]);
    assert!(
        on.out
            .starts_with("NOW   Low Marsh bulletin (Q1LMC), for 10 min, 20 min to go"),
        "{}",
        on.out
    );
    let due = place.json(&[
        "next",
        "--most",
        "1",
        "--json",
        "--now",
        "2026-07-05T17:30:00Z",
    ]);
    assert_eq!(
        (&due[0]["type"], &due[0]["begins"]),
        (&"due".into(), &"2026-07-05T19:00:00Z".into())
    );
    assert!((due[0]["dial"][0]["exact_khz"].as_f64().unwrap() - 3597.325).abs() < 1e-6);
    let changed = place.json(&[
        "change",
        "1",
        "--length",
        "45",
        "--except",
        "2026-07-05",
        "--json",
    ]);
    assert_eq!(
        (&changed[0]["length_min"], &changed[0]["version"]),
        (&45.0.into(), &1.into())
    );
    let due = place.json(&[
        "next",
        "--most",
        "1",
        "--json",
        "--now",
        "2026-07-05T17:30:00Z",
    ]);
    assert_eq!(due[0]["begins"], "2026-07-12T19:00:00Z");
    assert_eq!(place.skeds(&["remove", "1"]).code, 0);
    assert_eq!(place.skeds(&["next"]).code, 1);
}

#[test]
fn what_is_wrong_is_said_and_keeps_nothing() {
    let place = Place::new();
    place.skeds(&BULLETIN);
    for (words, said) in [
        (&["add", "x"][..], "--at is missing"),
        (
            &["add", "x", "--at", "2026-01-04"],
            "expected 2026-01-04T20:00",
        ),
        (
            &["add", "x", "--at", "2026-01-04T20:00", "--zone", "Atlantis"],
            "Europe/Oslo",
        ),
        (
            &["add", "x", "--at", "2026-01-04T20:00", "--rule", "WEEKLY"],
            "cannot be used",
        ),
        (
            &["add", "x", "--at", "2026-01-04T20:00", "--on", "3597,usb"],
            "3597,usb,2210",
        ),
        (
            &["add", "x", "--at", "2026-01-04T20:00", "--length", "0"],
            "minutes from above 0",
        ),
        (
            &[
                "add",
                "x",
                "--at",
                "2026-01-04T20:00",
                "--except",
                "2026-01-04",
            ],
            "never comes",
        ),
        (&["change", "99", "--length", "5"], "no sked 99"),
        (&["remove", "99"], "no sked 99"),
        (&["import", "/nowhere.ics"], "/nowhere.ics"),
    ] {
        let done = place.skeds(words);
        assert!(
            done.code == 2 && done.err.contains(said),
            "{words:?}: {} {}",
            done.code,
            done.err
        );
    }
    assert_eq!(place.json(&["list", "--json"]).len(), 1);
}

#[test]
fn a_calendar_comes_in_and_goes_out() {
    let place = Place::new();
    let calendar = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nBEGIN:VEVENT\r\nUID:1\r\nSUMMARY:Marsh net\r\nDTSTART;TZID=Europe/London:20260104T200000\r\nDURATION:PT20M\r\nRRULE:FREQ=WEEKLY\r\nDESCRIPTION:on 3597 kHz\r\nATTENDEE:mailto:q1abc@marsh.invalid\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n";
    let file = place.file("club.ics", calendar);
    let done = place.skeds(&["import", &file]);
    assert_eq!(done.code, 0, "{}", done.err);
    assert!(
        done.out
            .contains("Marsh net, 2026-01-04 20:00 Europe/London, every week, 20 min, 3597 kHz"),
        "{}",
        done.out
    );
    assert!(
        done.err.contains("left out of \"Marsh net\": ATTENDEE") && done.err.contains("1 taken in"),
        "{}",
        done.err
    );
    let done = place.skeds(&["export", "--alarm", "30"]);
    assert_eq!(done.code, 0, "{}", done.err);
    assert!(
        (52..=53).contains(&done.out.matches("BEGIN:VEVENT").count()),
        "{}",
        done.out
    );
    assert_eq!(
        done.out.matches("BEGIN:VALARM").count(),
        done.out.matches("BEGIN:VEVENT").count()
    );
    let none = place.file("letter.txt", "Dear friends of the marsh");
    let done = place.skeds(&["import", &none]);
    assert!(
        done.code == 2 && done.err.contains("BEGIN:VCALENDAR"),
        "{}",
        done.err
    );
}

/// A bulletin and a receiver; until that is described, these words are refused.
fn described(words: &[&str]) -> Place {
    let place = Place::new();
    place.skeds(&BULLETIN);
    let done = place.skeds(words);
    assert!(
        done.code == 2 && done.err.contains("[receiver]"),
        "{}",
        done.err
    );
    place.file(
        "markhold/settings.toml",
        "[receiver]\nshows = \"lower-carrier\"\n",
    );
    place
}

/// 3597.325 is right for the bulletin; a dial that stands at 3596.7 reads 0.625 low.
#[test]
fn a_dial_is_learned_from_where_it_stood() {
    let heard = ["heard", "1", "--dial", "3596.7", "--json"];
    let place = described(&heard);
    let told = place.json(&heard);
    assert!(
        (told[0]["reads_high_hz"].as_f64().unwrap() + 625.0).abs() < 1e-3,
        "{told:?}"
    );
    let done = place.skeds(&heard);
    assert!(
        done.err
            .contains("plain arithmetic: only one evening is known here"),
        "{}",
        done.err
    );
    let done = place.skeds(&["heard", "1", "--dial", "7000"]);
    assert!(
        done.code == 2 && done.err.contains("off all of its frequencies"),
        "{}",
        done.err
    );
}

#[test]
fn where_the_dial_stands_is_told_once_and_shown() {
    let place = described(&["dial"]);
    let done = place.skeds(&["dial"]);
    assert!(done.out.contains("is not known"), "{}", done.out);
    let told = place.json(&["dial", "3596.7", "--switched-on", "now", "--json"]);
    let stands = &told[0]["stands"];
    assert_eq!(
        (&stands["khz"], &stands["by"]),
        (&3596.7.into(), &"person".into())
    );
    assert!(
        stands["on"].is_string() && told[0]["warm_up"].is_null(),
        "{told:?}"
    );
    let done = place.skeds(&["next"]);
    assert!(
        done.out.contains("the receiver has been on for"),
        "{}",
        done.out
    );
    // What a person tells of one evening stands beside what is learned by itself.
    place.skeds(&["heard", "1", "--dial", "3596.7"]);
    let done = place.skeds(&["dial"]);
    for words in [
        "3596.700 kHz, as you said",
        "3 MHz: plain arithmetic: only one evening",
    ] {
        assert!(done.out.contains(words), "{}", done.out);
    }
    let told = place.json(&["dial", "--forget", "--json"]);
    assert!(told[0]["stands"]["khz"].is_null(), "{told:?}");
    for bad in [
        &["dial", "-5"][..],
        &["dial", "3597", "--switched-on", "soon"],
    ] {
        assert_eq!(place.skeds(bad).code, 2, "{bad:?}");
    }
}

#[test]
fn a_sked_that_is_printed_names_a_machine_that_is_there() {
    let place = Place::new();
    place.skeds(&BULLETIN);
    let done = place.skeds(&["change", "1", "--print-on", "attic"]);
    assert!(done.code == 2 && done.err.contains("attic"), "{}", done.err);
    let done = place.skeds(&["change", "1", "--print-on", "us-72-45"]);
    assert!(
        done.code == 2 && done.err.contains("no way to us-72-45"),
        "{}",
        done.err
    );
    place.file(
        "markhold/settings.toml",
        "[machine.shack]\nkind = \"us-72-45\"\nway = \"codes:/tmp/nowhere\"\n",
    );
    let done = place.skeds(&["change", "1", "--print-on", "shack"]);
    assert!(
        done.out.contains("printed on shack") && done.err.contains("moving parts"),
        "{}",
        done.err
    );
    assert_eq!(place.json(&["list", "--json"])[0]["print_on"], "shack");
    let done = place.skeds(&["change", "1", "--print-on", ""]);
    assert!(
        done.code == 0 && !done.out.contains("printed"),
        "{}",
        done.out
    );
}

#[test]
fn a_unit_of_systemd_runs_the_same() {
    let place = Place::new();
    let words = [
        "service",
        "--input",
        "Line 50% \"In\"",
        "--language",
        "off",
        "--no-learn",
    ];
    let done = place.skeds(&words);
    assert_eq!(done.code, 0, "{}", done.err);
    let line = done.out.lines().find(|line| line.starts_with("ExecStart="));
    let line = line.expect("what it runs");
    for part in [
        "\"skeds\" \"watch\" \"--shelf=/",
        r#""--input=Line 50%% \"In\"""#,
        "\"--language=off\" \"--no-learn\"",
    ] {
        assert!(line.contains(part), "{part} in {line}");
    }
    let written = place.skeds(&[&words[..], &["--write"]].concat());
    assert_eq!(
        (written.code, written.out.as_str()),
        (0, ""),
        "{}",
        written.err
    );
    let unit = place
        .folder
        .path()
        .join("systemd/user/markhold-skeds.service");
    assert_eq!(std::fs::read_to_string(&unit).unwrap(), done.out);
    assert!(written.err.contains("systemctl --user"), "{}", written.err);
}
