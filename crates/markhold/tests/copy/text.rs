//! The text, whatever the sound comes in.

use super::*;

#[test]
fn a_clean_recording_is_copied_to_the_letter() {
    let folder = tempfile::tempdir().unwrap();
    let path = recording(&folder, "clean.wav", TEXT, &[]);
    let done = markhold(["copy", &path]);
    assert_eq!((done.code, done.out.as_str()), (0, TEXT), "{}", done.err);
    assert!(
        done.err.contains("45.45 baud") && done.err.contains("ended"),
        "{}",
        done.err
    );
    let piped = markhold_with(["copy", "-"], &std::fs::read(&path).unwrap());
    assert_eq!((piped.code, piped.out), (0, done.out));
}

#[test]
fn raw_samples_give_the_same_text() {
    let folder = tempfile::tempdir().unwrap();
    let path = recording(&folder, "good.wav", TEXT, NOISE);
    let mut reader = hound::WavReader::open(&path).unwrap();
    let bytes: Vec<u8> = reader
        .samples::<i16>()
        .flat_map(|s| s.unwrap().to_le_bytes())
        .collect();
    let done = markhold_with(["copy", "--raw", "12000", "-"], &bytes);
    assert_eq!((done.code, done.out.as_str()), (0, TEXT), "{}", done.err);
}

/// What was copied before an error is printed, and the error told.
#[test]
fn a_failure_in_mid_file_loses_no_text() {
    let folder = tempfile::tempdir().unwrap();
    let path = recording(&folder, "whole.wav", TEXT, NOISE);
    let bytes = std::fs::read(&path).unwrap();
    let cut = folder.path().join("cut.wav");
    std::fs::write(&cut, &bytes[..bytes.len() / 2]).unwrap();
    let done = markhold(["copy", cut.to_str().unwrap()]);
    assert_eq!(done.code, 0, "{}", done.err);
    assert!(done.out.starts_with("CQ CQ DE Q1ABC\n"), "{}", done.out);
    assert!(done.err.contains("ends early"), "{}", done.err);

    let missing = folder.path().join("missing.wav");
    let done = markhold(["copy", &path, missing.to_str().unwrap(), &path]);
    assert_eq!(done.code, 2);
    assert_eq!(done.out, [TEXT, TEXT].concat());
    assert!(
        done.err.contains("missing.wav: no such file"),
        "{}",
        done.err
    );
    assert!(
        done.err
            .contains("whole.wav: WAV, 16-bit, 12000 Hz, one channel"),
        "{}",
        done.err
    );
}

#[test]
fn json_holds_the_same_text() {
    let folder = tempfile::tempdir().unwrap();
    let more = [NOISE, &["--begin", "2026-03-21T19:30:00.5Z"]].concat();
    let path = recording(&folder, "good.wav", TEXT, &more);
    let done = markhold(["copy", "--json", &path]);
    assert_eq!(done.code, 0, "{}", done.err);
    let lines: Vec<serde_json::Value> = done
        .out
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let of = |kind: &str| {
        lines
            .iter()
            .filter(|l| l["type"] == kind)
            .collect::<Vec<_>>()
    };
    assert_eq!(lines[0]["type"], "file");
    assert_eq!(lines[0]["begin"], "2026-03-21T19:30:00.5");
    assert_eq!(
        (of("signal").len(), of("end").len(), of("file-end").len()),
        (1, 1, 1)
    );
    let end = of("file-end")[0];
    assert_eq!(end["characters"], of("character").len());
    assert!(end["error"].is_null());
    let text: String = of("character")
        .iter()
        .filter_map(|c| c["glyph"].as_str())
        .collect();
    assert_eq!(text.replace("\r\n", "\n"), TEXT);
    let times: Vec<f64> = of("character")
        .iter()
        .map(|c| c["start"].as_f64().unwrap())
        .collect();
    assert!(times.is_sorted());
}

#[test]
fn a_reader_that_goes_away_is_no_error() {
    use std::process::Stdio;
    let folder = tempfile::tempdir().unwrap();
    let path = recording(&folder, "good.wav", TEXT, NOISE);
    let mut child = command(["copy", &path])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    assert_eq!(child.wait().unwrap().code(), Some(0));
}

/// What recorders do to sound, and what must not harm the copy.
#[test]
fn offset_clipping_and_bad_samples_do_no_harm() {
    let folder = tempfile::tempdir().unwrap();
    let path = recording(&folder, "good.wav", TEXT, NOISE);
    let ways: [(&str, Change, Option<&str>); 5] = [
        ("offset", |_, x| x + 0.3, None),
        (
            "clipped",
            |_, x| (6.0 * x).clamp(-1.0, 1.0),
            Some("% of the samples are clipped"),
        ),
        (
            "holes",
            |i, x| if i % 997 == 0 { f32::NAN } else { x },
            Some("were not numbers"),
        ),
        ("quiet", |_, x| 1e-4 * x, None),
        ("upside-down", |_, x| -x, None),
    ];
    for (name, change, notice) in ways {
        let changed = changed(&folder, name, &path, change);
        let done = markhold(["copy", &changed]);
        assert_eq!(
            (done.code, done.out.as_str()),
            (0, TEXT),
            "{name}: {}",
            done.err
        );
        assert!(
            notice.is_none_or(|text| done.err.contains(text)),
            "{}",
            done.err
        );
    }
}

#[test]
fn the_channel_asked_for_is_copied() {
    let folder = tempfile::tempdir().unwrap();
    let [left, right] = [
        ("left.wav", "LEFT LEFT LEFT"),
        ("right.wav", "RIGHT RIGHT RIGHT"),
    ]
    .map(|(name, text)| recording(&folder, name, text, NOISE));
    let path = stereo(&folder, &left, &right);
    for (channel, text) in [("1", "LEFT LEFT LEFT\n"), ("2", "RIGHT RIGHT RIGHT\n")] {
        let done = markhold(["copy", "--channel", channel, &path]);
        assert_eq!((done.code, done.out.as_str()), (0, text), "{}", done.err);
    }
    let done = markhold(["copy", "--channel", "3", &path]);
    assert_eq!(done.code, 2);
    assert!(
        done.err.contains("the sound has 2 channels"),
        "{}",
        done.err
    );
}

#[test]
fn two_signals_stand_under_their_headings() {
    let folder = tempfile::tempdir().unwrap();
    let [low, high] = [
        ("low.wav", "LOW MARSH\nNET\n", "1000"),
        ("high.wav", "HIGH MOOR\nCLUB\n", "2210"),
    ]
    .map(|(name, text, centre)| {
        recording(&folder, name, text, &["--es-n0", "22", "--centre", centre])
    });
    let path = mixed(&folder, &low, &high);
    let done = markhold(["copy", "--all", &path]);
    assert_eq!(done.code, 0, "{}", done.err);
    let (headings, text): (Vec<&str>, Vec<&str>) = done
        .out
        .lines()
        .partition(|line| line.starts_with("== signal"));
    assert!(headings.len() >= 2, "{}", done.out);
    for line in ["LOW MARSH", "NET", "HIGH MOOR", "CLUB"] {
        assert!(text.contains(&line), "{}", done.out);
    }
}

/// Off, mark and on: what the text holds, and what stands in the JSON.
#[test]
fn language_is_off_marks_or_joins() {
    let folder = tempfile::tempdir().unwrap();
    let text = "THE MORNING BOAT BROUGHT THE NEW RIBBONS AND A LETTER FROM THE HARBOUR OFFICE. \
        THE SECRETARY THANKS EVERYONE WHO HELPED TO CARRY THE OLD MACHINE UP THE STAIRS.";
    let path = recording(&folder, "weak.wav", text, &["--es-n0", "6"]);
    let copy = |more: &[&'static str]| {
        let words = ["copy", path.as_str()];
        let done = markhold(words.into_iter().chain(more.iter().copied()));
        assert_eq!(done.code, 0, "{}", done.err);
        done.out
    };
    let [off, mark, on] = ["off", "mark", "on"].map(|l| copy(&["--language", l]));
    let unmarked: String = mark.chars().filter(|c| !"{}[]".contains(*c)).collect();
    assert_eq!(unmarked, off, "marks change nothing");
    assert!(on.contains("LETTER FROM THE HARBOUR"), "{on}");
    assert_eq!(on, copy(&[]), "on is usual");
    let changed = |language| {
        let json = copy(&["--json", "--language", language]);
        let lines = json
            .lines()
            .map(|l| serde_json::from_str::<serde_json::Value>(l).unwrap());
        let characters: Vec<_> = lines.filter(|l| l["type"] == "character").collect();
        let asked = characters
            .iter()
            .filter(|c| !c["language"].is_null())
            .count();
        let changed = characters
            .iter()
            .filter(|c| c["language"]["changed"] == true)
            .count();
        assert!(asked == 0 || asked == characters.len());
        (asked > 0, changed)
    };
    assert_eq!(changed("off"), (false, 0));
    assert!(changed("on").0);
    assert_eq!(mark.contains('{'), changed("mark").1 > 0);
}

/// A pipe that gives nothing just then: what the receiver held back is printed nevertheless.
#[cfg(unix)]
#[test]
fn told_to_stop_it_prints_what_it_held_back() {
    use std::io::{Read, Write};
    let folder = tempfile::tempdir().unwrap();
    let text = "THE QUICK BROWN FOX JUMPS OVER THE LAZY DOG 1234567890";
    let path = recording(
        &folder,
        "stalls.wav",
        text,
        &["--es-n0", "18", "--tail", "0"],
    );
    let sound = std::fs::read(path).unwrap();
    let mut child = common::command(["copy", "-"])
        .stdin(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    // More is to come by its header, and does not.
    input.write_all(&sound[..sound.len() - 2]).unwrap();
    input.flush().unwrap();
    let mut out = child.stdout.take().unwrap();
    let (mut all, mut byte) = (Vec::new(), [0]);
    while all.len() < 12 {
        assert_eq!(out.read(&mut byte).unwrap(), 1);
        all.push(byte[0]);
    }
    // A busy computer takes its time.
    std::thread::sleep(std::time::Duration::from_secs(5));
    let pid = child.id().to_string();
    let told = std::process::Command::new("kill")
        .args(["-INT", &pid])
        .status();
    assert!(told.unwrap().success());
    out.read_to_end(&mut all).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(130));
    let all = String::from_utf8(all).unwrap();
    assert_eq!(all.trim_end(), text);
    drop(input);
}

#[test]
fn several_receivers_are_copied_as_one() {
    let folder = tempfile::tempdir().unwrap();
    let text = "LOW MARSH BULLETIN NR 117 WILL BE HEARD AGAIN ON FRIDAY EVENING\n";
    let heard = |name: &str, lead: &str, centre: &str, seed: &str| {
        let more = [
            "--es-n0", "14", "--lead", lead, "--centre", centre, "--seed", seed,
        ];
        recording(&folder, name, text, &more)
    };
    let (a, b) = (
        heard("a.wav", "3", "1360", "1"),
        heard("b.wav", "5.5", "2210", "2"),
    );
    let done = markhold(["copy", "--together", &a, &b]);
    assert_eq!((done.code, done.out.as_str()), (0, text), "{}", done.err);
    let near = ["its clock is 2.49", "its clock is 2.50"];
    assert!(near.iter().any(|n| done.err.contains(n)), "{}", done.err);
    for (words, why) in [
        (vec!["copy", "--together", &a], "found one channel"),
        (
            vec!["copy", "--together", &a, "-"],
            "standard input is none for it",
        ),
    ] {
        let done = markhold(words);
        assert!(done.code == 2 && done.err.contains(why), "{}", done.err);
    }
}
