//! `markhold shelf` and language: what it changed is kept and shown, what the person wants
//! of it holds, and what the shelf learned is forgotten on demand.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;
use serde_json::Value;

const LINE: &str = "THE NET MEETS AT NINE AT THE ROPEWALK. QST DE Q1ABC 12 34\n";

/// A shelf of its own, and a settings file.
struct Bench {
    folder: tempfile::TempDir,
}

impl Bench {
    /// With a settings file and one evening in noise.
    fn new(settings: &str, es_n0: &str) -> Bench {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir(folder.path().join("markhold")).unwrap();
        std::fs::write(folder.path().join("markhold/settings.toml"), settings).unwrap();
        let bench = Bench { folder };
        bench.add("1", es_n0, &[]);
        bench
    }

    fn add(&self, name: &str, es_n0: &str, more: &[&str]) -> Done {
        // Noise of its own for each: of these at 3 dB language changes some characters.
        let seed = (3 + name.parse::<u32>().unwrap()).to_string();
        let noise = ["--es-n0", es_n0, "--seed", &seed, "--lead", "2"];
        let path = recording(&self.folder, name, &LINE.repeat(2), &noise);
        let done = self.shelf(&[&["add", &path], more].concat());
        assert_eq!(done.code, 0, "{}", done.err);
        done
    }

    fn shelf(&self, words: &[&str]) -> Done {
        let place = self.folder.path().join("shelf").display().to_string();
        let mut command = command(["shelf", "--utc", "--shelf", &place]);
        let folders = [("XDG_CONFIG_HOME", self.folder.path())];
        done(command.args(words).envs(folders).output().unwrap())
    }

    fn json(&self, words: &[&str]) -> Vec<Value> {
        self.shelf(words).json()
    }

    /// The settings of the reading to show.
    fn settings(&self) -> Value {
        let evening = self.json(&["list", "--json"]).remove(0);
        let best = evening["best"].as_u64().unwrap() as usize;
        evening["readings"][best - 1]["settings"].clone()
    }
}

/// Text without marks.
fn plain(marked: &str) -> String {
    marked.replace(['[', ']', '{', '}'], "")
}

#[test]
fn what_language_changed_is_shown_everywhere() {
    let bench = Bench::new("", "3");
    let marked = bench.shelf(&["show", "1", "--doubt", "marked"]);
    assert!(marked.out.contains('{'), "{}", marked.out);
    assert!(
        marked.err.contains(" changed by language"),
        "{}",
        marked.err
    );
    let shown = bench.shelf(&["show", "1"]);
    assert_eq!(plain(&marked.out), shown.out);

    let objects = bench.json(&["export", "1", "--format", "jsonl", "--out", "-"]);
    let characters = objects.iter().filter(|o| o["type"] == "character");
    let changed = characters.filter(|o| o["language"]["changed"] == true);
    let count = changed.count() as u64;
    assert!(count > 1, "{count}");
    let evening = &objects[0];
    assert_eq!(evening["readings"][0]["changed"], count);

    let text = [
        "export", "1", "--format", "text", "--doubt", "marked", "--out", "-",
    ];
    assert!(bench.shelf(&text).out.contains('{'));
    let page = bench
        .shelf(&["export", "1", "--format", "html", "--out", "-"])
        .out;
    let glyphs = page.matches("<em>").count() + page.matches("<em title=").count();
    assert!(glyphs > 0, "{page}");
    assert!(page.contains("signal alone: ") && page.contains(", with language: "));

    let hits = bench.json(&["search", "--json", "ropewalk"]);
    let hit = hits.iter().find(|hit| hit["changed"].as_u64() > Some(0));
    let hit = hit.expect("a line that language changed");
    let text = hit["marked"].as_str().unwrap();
    assert!(text.contains('{') && plain(text) == hit["text"].as_str().unwrap());
    let found = bench.shelf(&["search", "ropewalk", "--doubt", "marked"]);
    assert!(found.out.contains(text), "{}", found.out);
}

#[test]
fn the_person_chooses_what_language_does() {
    let bench = Bench::new("[shelf]\nlanguage = \"off\"", "4");
    assert_eq!(bench.settings()["language"], "off");
    let show = || bench.shelf(&["show", "1", "--doubt", "marked"]);
    let off = show();
    assert!(
        !off.out.contains('{') && off.err.contains("language off"),
        "{}",
        off.err
    );
    for (words, set, said) in [
        (
            &["--language", "mark"][..],
            "mark",
            "where language differs",
        ),
        (&["--language", "on"], "on", "changed by language"),
        // The settings file, not what the evening was heard with.
        (&[], "off", "language off"),
    ] {
        let done = bench.shelf(&[&["again", "1"], words].concat());
        assert!(done.code == 0 && done.err.contains(said), "{}", done.err);
        assert_eq!(bench.settings()["language"], set);
        let shown = show().out;
        match set {
            "mark" => assert!(plain(&shown) == plain(&off.out) && shown.contains('{')),
            "on" => assert!(plain(&shown) != plain(&off.out) && shown.contains('{')),
            _ => assert_eq!(shown, off.out),
        }
    }
}

#[test]
fn a_wrong_settings_file_is_told_and_the_command_line_goes_first() {
    let bench = Bench::new("[shelf]\nlanguage = \"off\"", "12");
    let file = bench.folder.path().join("other.toml");
    std::fs::write(&file, "[shelf]\nsound_limit = \"a lot\"").unwrap();
    let file = file.display().to_string();
    let done = bench.shelf(&["list", "--settings", &file]);
    let said = ["other.toml", "sound_limit", "\"a lot\"", "40 GB"];
    assert!(
        done.code == 2 && said.iter().all(|s| done.err.contains(s)),
        "{}",
        done.err
    );
    let path = bench.folder.path().join("1").display().to_string();
    let done = bench.shelf(&["add", &path, "--sound-limit", "9MB"]);
    assert!(
        done.code == 2 && done.err.contains("from 10 MB on"),
        "{}",
        done.err
    );
    bench.add("2", "12", &["--language", "on", "--sound-limit", "10MB"]);
    let list = bench.json(&["list", "--json"]);
    let language = |k: usize| &list[k]["readings"][0]["settings"]["language"];
    assert_eq!(
        [language(0), language(1)].map(Value::as_str),
        [Some("off"), Some("on")]
    );
}

#[test]
fn learning_is_off_until_it_is_wanted_and_is_forgotten() {
    let bench = Bench::new("", "14");
    bench.add("2", "14", &[]);
    bench.shelf(&["again", "1"]);
    assert_eq!(bench.settings()["learned_contexts"], Value::Null);
    // Learned on demand, but used only where that is wanted.
    let done = bench.shelf(&["learn", "--json"]);
    let learned: Value = serde_json::from_str(&done.out).unwrap();
    assert_eq!(
        (&learned["evenings"], &learned["used"]),
        (&2.into(), &false.into())
    );
    assert!(learned["words"].as_u64() > Some(10), "{learned}");
    assert!(done.err.contains("It is not used"), "{}", done.err);
    bench.shelf(&["again", "1", "--learn"]);
    assert_eq!(bench.settings()["learned_contexts"], learned["contexts"]);

    let file = bench.folder.path().join("markhold/settings.toml");
    std::fs::write(file, "[shelf]\nlearn = true").unwrap();
    bench.shelf(&["again", "1"]);
    assert!(bench.settings()["learned_contexts"].as_u64() > Some(10));
    bench.shelf(&["again", "1", "--no-learn"]);
    assert_eq!(bench.settings()["learned_contexts"], Value::Null);
    bench.shelf(&["again", "1", "--language", "off"]);
    assert_eq!(bench.settings()["learned_contexts"], Value::Null);

    // The readings to learn from are others by now.
    let learned = bench.json(&["learn", "--json"]).remove(0);
    let one = bench.json(&["forget", "2", "--json"]).remove(0);
    assert_eq!(
        (&one["evenings"], &one["forgotten"]),
        (&1.into(), &1.into())
    );
    let done = bench.shelf(&["forget", "all"]);
    assert!(
        done.code == 0 && done.err.contains("Forgotten"),
        "{}",
        done.err
    );
    assert_eq!(
        bench.shelf(&["learn"]).code,
        1,
        "nothing is left to learn from"
    );
    assert_eq!(bench.shelf(&["show", "2"]).code, 0, "the copy stays");
    let again = bench.json(&["learn", "all", "--json"]).remove(0);
    assert_eq!(again["contexts"], learned["contexts"]);
    let done = bench.shelf(&["forget", "7"]);
    assert!(
        done.code == 2 && done.err.contains("no evening 7"),
        "{}",
        done.err
    );
}
