//! `markhold shelf join` and `compare` as a script sees them: a bulletin heard on three nights
//! becomes one, and is laid beside the published text.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use serde_json::Value;
use std::sync::OnceLock;

const BODY: &str = "\
THE NET WILL BE HEARD ON 3595 KHZ AND ALL MEMBERS ARE ASKED TO LISTEN
THE PRINTER WAS REPAIRED BY OUR SECRETARY WHO THANKS ALL THAT SENT REPORTS
SPARE KEYS ARE WANTED, PLEASE WRITE TO Q1LMC
END OF BULLETIN
";

/// Three faint nights, the third with another serial, and a fourth with something else.
struct Kept {
    folder: tempfile::TempDir,
}

impl Kept {
    fn read_only() -> &'static Kept {
        static KEPT: OnceLock<Kept> = OnceLock::new();
        KEPT.get_or_init(|| {
            let folder = tempfile::tempdir().unwrap();
            let kept = Kept { folder };
            let bulletin = |nr: u32| format!("LOW MARSH BULLETIN NR {nr}\n{BODY}");
            let other =
                "CQ CQ DE Q1ABC Q1ABC GOOD EVENING AND WHAT A STORM WE HAVE HAD\n".to_string();
            let nights = [
                (bulletin(117), "5"),
                (bulletin(117), "5.5"),
                (bulletin(118), "9"),
                (other, "12"),
            ];
            for (night, (text, es_n0)) in nights.iter().enumerate() {
                let (seed, begin) = (
                    (night + 1).to_string(),
                    format!("2026-03-2{}T19:30:00Z", night + 1),
                );
                let more = [
                    "--begin", &begin, "--es-n0", es_n0, "--seed", &seed, "--lead", "2",
                ];
                let path = recording(&kept.folder, &format!("{seed}.wav"), text, &more);
                let done = kept.shelf(&["add", &path, "--language", "off"]);
                assert_eq!(done.code, 0, "{}", done.err);
            }
            kept
        })
    }

    fn shelf(&self, words: &[&str]) -> Done {
        let place = self.folder.path().join("shelf").display().to_string();
        let mut command = command(["shelf", "--utc", "--shelf", &place]);
        command
            .args(words)
            .env("XDG_CONFIG_HOME", self.folder.path());
        done(command.output().unwrap())
    }
}

#[test]
fn three_faint_nights_become_one_copy_with_its_variants() {
    let kept = Kept::read_only();
    // Alone the faintest has errors.
    let alone = kept.shelf(&["show", "1"]).out;
    assert!(!BODY.lines().all(|l| alone.contains(l)), "{alone}");
    let done = kept.shelf(&["join", "1", "2", "3", "--doubt", "marked"]);
    assert_eq!(done.code, 0, "{}", done.err);
    let plain = done.out.replace(['[', ']'], "");
    let lines: Vec<&str> = plain.lines().collect();
    assert_eq!(lines[0], "== A, B and C ==");
    assert_eq!(lines[1], "LOW MARSH BULLETIN NR <117|118>");
    assert!(lines[2..6].iter().copied().eq(BODY.lines()), "{plain}");
    let variant = "<117|118>: 117 in A (2026-03-21), B (2026-03-22); 118 in C (2026-03-23)";
    assert_eq!(lines[6..], [variant]);
    assert!(
        done.err.contains("B: evening 2, signal 1, 2026-03-22"),
        "{}",
        done.err
    );
    assert!(done.err.contains("1 variant"), "{}", done.err);
}

#[test]
fn lines_say_who_bears_them_on_request() {
    let done = Kept::read_only().shelf(&["join", "1", "3/1", "--bearers"]);
    let lines: Vec<&str> = done.out.lines().collect();
    assert!(lines[1].starts_with("AB  LOW MARSH"), "{}", done.out);
    assert!(lines[2].starts_with("AB  THE NET"), "{}", done.out);
}

#[test]
fn a_script_gets_every_character_with_its_bearers() {
    let kept = Kept::read_only();
    let objects = kept.shelf(&["join", "1", "2", "3", "--json"]).json();
    let of = |kind: &str| -> Vec<&Value> { objects.iter().filter(|o| o["type"] == kind).collect() };
    let [joint] = of("joint")[..] else {
        panic!("one joint copy: {objects:?}");
    };
    assert_eq!(joint["copies"].as_array().unwrap().len(), 3);
    let characters = of("joint-character");
    assert_eq!(joint["characters"], characters.len());
    let text: String = characters
        .iter()
        .filter(|c| c["present"].as_f64().unwrap() > 0.5)
        .filter_map(|c| c["glyph"].as_str())
        .collect();
    assert!(text.replace('\r', "").ends_with(BODY), "{text}");
    let all = characters
        .iter()
        .filter(|c| c["bearers"].as_array().unwrap().len() == 3);
    assert!(all.count() > 150);
    // The ids are those of the evenings' own characters.
    let events = kept.shelf(&["show", "3", "--json"]).json();
    let (at, id) = characters
        .iter()
        .enumerate()
        .find_map(|(at, c)| {
            let bearers = c["bearers"].as_array().unwrap();
            let third = bearers.iter().find(|b| b["copy"] == "C")?;
            Some((at, third["id"].clone()))
        })
        .unwrap();
    let event = events.iter().find(|e| e["id"] == id).unwrap();
    assert_eq!(event["code"], characters[at]["code"]);
    let variants = of("variant");
    let texts: Vec<&Value> = variants[0]["wordings"].as_array().unwrap().iter().collect();
    assert_eq!((variants.len(), texts.len()), (1, 2));
    assert_eq!(
        (&texts[0]["text"], &texts[1]["text"]),
        (&"117".into(), &"118".into())
    );
    assert_eq!(texts[1]["copies"][0]["evening"], 3);
}

#[test]
fn what_is_not_there_or_repeats_nothing_is_said() {
    let kept = Kept::read_only();
    let done = kept.shelf(&["join", "1", "4"]);
    assert_eq!((done.code, done.out.as_str()), (1, ""), "{}", done.err);
    assert!(
        done.err.contains("nothing that another copy repeats"),
        "{}",
        done.err
    );
    for (words, said) in [
        (["1", "3/7"], "evening 3 has no signal 7"),
        (["1", "3/x"], "as in 12/2"),
        (["1", "9"], "no evening 9"),
    ] {
        let done = kept.shelf(&["join", words[0], words[1]]);
        assert!(done.code == 2 && done.err.contains(said), "{}", done.err);
    }
}

/// A published text in a file.
fn text(name: &str, text: &str) -> String {
    let path = Kept::read_only().folder.path().join(name);
    std::fs::write(&path, text).unwrap();
    path.display().to_string()
}

#[test]
fn a_copy_is_laid_beside_the_published_text() {
    let kept = Kept::read_only();
    let published = BODY
        .to_lowercase()
        .replace("spare keys", "spare ribbons")
        .replace('\n', "  \n\n");
    let path = text("published.txt", &published);
    let objects = kept.shelf(&["compare", "3", &path, "--json"]).json();
    let (sum, differences) = objects.split_last().unwrap();
    let differs: Vec<&Value> = differences
        .iter()
        .filter(|d| d["kind"] == "text-differs")
        .collect();
    assert_eq!(differs.len(), 1, "{differences:?}");
    assert_eq!(
        (&differs[0]["ours"], &differs[0]["text"]),
        (&"KEYS".into(), &"RIBBONS".into())
    );
    assert_eq!(sum["type"], "comparison");
    assert!(sum["heard"].as_u64().unwrap() > 180, "{sum}");
    assert!(sum["wrong"].as_f64().unwrap() < 0.05, "{sum}");
    let result = sum["result"].as_str().unwrap();
    for private in ["2026", "Q1", "MARSH", "evening"] {
        assert!(!result.contains(private), "{result}");
    }
}

#[test]
fn errors_of_a_faint_copy_are_told_as_marked_or_not() {
    let kept = Kept::read_only();
    let path = text("body.txt", BODY);
    let done = kept.shelf(&["compare", "1", &path]);
    assert_eq!(done.code, 0, "{}", done.err);
    assert!(done.out.contains("wrong, marked "), "{}", done.out);
    assert!(
        done.out.contains("% of ") && done.out.contains("characters are wrong"),
        "{}",
        done.out
    );
    assert!(done.out.contains("came true\n"), "{}", done.out);
    let objects = kept.shelf(&["compare", "1/1", &path, "--json"]).json();
    let sum = objects.last().unwrap();
    let count = |name: &str| sum[name].as_u64().unwrap();
    let wrong = count("wrong_marked") + count("wrong_unmarked");
    assert!(
        wrong > 3 && count("wrong_marked") > count("wrong_unmarked"),
        "{sum}"
    );
    assert!((sum["wrong"].as_f64().unwrap() - wrong as f64 / count("heard") as f64).abs() < 1e-4);
}

#[test]
fn a_text_that_is_not_there_or_another_is_said() {
    let kept = Kept::read_only();
    let other = text(
        "other.txt",
        &"SOMETHING ELSE ALTOGETHER WAS PUBLISHED THAT DAY. ".repeat(6),
    );
    let done = kept.shelf(&["compare", "1", &other]);
    assert_eq!((done.code, done.out.as_str()), (1, ""));
    assert!(done.err.contains("nothing in common"), "{}", done.err);
    let done = kept.shelf(&["compare", "1", "/nowhere.txt"]);
    assert!(
        done.code == 2 && done.err.contains("there is no such file"),
        "{}",
        done.err
    );
}
