//! `markhold copy` as a script sees it: text, talk and exit codes.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;

/// Bad input, what is said about it, and the exit code: 1 nothing found, 2 an error.
#[test]
fn bad_input_is_told_in_one_line() {
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        path.display().to_string()
    };
    let header = |channels, rate| wav_header(channels, rate, 1_000);
    let cases = [
        (
            folder.path().join("missing.wav").display().to_string(),
            "no such file",
        ),
        (folder.path().display().to_string(), "this is a folder"),
        (file("empty.wav", b""), "not one byte"),
        (
            file("letter.wav", b"Dear friends of the marsh"),
            "text, beginning \"Dear friends",
        ),
        (file("picture.wav", b"\x89PNG\r\n\x1a\n"), "a PNG picture"),
        (
            file("cut.wav", b"RIFF\x24\0\0\0WAVEfm"),
            "the header is damaged",
        ),
        (file("rate.wav", &header(1, 0)), "the sample rate is 0 Hz"),
        (
            file("fast.wav", &header(1, 400_000)),
            "the sample rate is 400000 Hz",
        ),
        (
            file("wide.wav", &header(64, 8_000)),
            "the file states 64 channels",
        ),
        (
            file("bare.wav", &wav_header(1, 8_000, 0)[..44]),
            "no samples after the header",
        ),
    ];
    for (path, expected) in cases {
        let done = markhold(["copy", &path]);
        assert_eq!(done.code, 2, "{path}: {}", done.err);
        assert!(
            done.err.contains(expected) && done.err.contains(&path),
            "{}",
            done.err
        );
        assert_eq!(done.err.lines().count(), 1, "{}", done.err);
        assert_eq!(done.out, "");
    }
}

#[test]
fn sound_without_a_signal_is_nothing_found() {
    let folder = tempfile::tempdir().unwrap();
    let silence = vec![0.0; 40_000];
    let offset = vec![0.5; 40_000];
    let clipped: Vec<f32> = (0..40_000)
        .map(|i| if i % 100 < 50 { 1.5 } else { -1.5 })
        .collect();
    let broken: Vec<f32> = (0..40_000)
        .map(|i| if i % 3 == 0 { f32::NAN } else { f32::INFINITY })
        .collect();
    for (name, samples, notice) in [
        ("silence", silence, None),
        ("offset", offset, None),
        ("clipped", clipped, Some("clipped")),
        ("broken", broken, Some("40000 samples were not numbers")),
    ] {
        let path = float_wav(&folder, name, &samples);
        let done = markhold(["copy", &path]);
        assert_eq!(done.code, 1, "{name}: {}", done.err);
        assert!(done.err.contains("nothing found"), "{}", done.err);
        assert!(
            notice.is_none_or(|text| done.err.contains(text)),
            "{}",
            done.err
        );
        assert_eq!(done.out, "");
    }
}

#[test]
fn wrong_options_are_told() {
    for (words, expected) in [
        (vec!["copy"], "<FILE>"),
        (
            vec!["copy", "--raw", "fast", "-"],
            "\"fast\" is not understood",
        ),
        (vec!["copy", "--raw", "0", "-"], "0 Hz"),
        (
            vec!["copy", "--all", "--at", "1000", "-"],
            "cannot be used with",
        ),
        (vec!["print", "x"], "unrecognized subcommand"),
    ] {
        let done = markhold(words);
        assert_eq!(done.code, 2);
        assert!(done.err.contains(expected), "{}", done.err);
    }
}

#[test]
fn alone_it_opens_the_desk_or_says_why_not() {
    let taken = std::net::TcpListener::bind("127.0.0.1:0").expect("a free port");
    let port = taken.local_addr().expect("bound").port().to_string();
    let done = markhold(["--practice", "--port", &port]);
    assert_eq!((done.code, done.out.as_str()), (2, ""));
    assert!(
        done.err.contains("is taken") && done.err.contains("--port"),
        "{}",
        done.err
    );
}

/// Noise as under a good signal.
const NOISE: &[&str] = &["--es-n0", "22"];

const TEXT: &str = "CQ CQ DE Q1ABC\nTHE NET MEETS AT 1930 ON 3587 KHZ.\nGOOD EVENING (ALL)\n";

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

/// A named pipe with nobody at its other end, wherever a file is read or written.
#[cfg(unix)]
#[test]
fn a_pipe_without_another_end_hangs_nothing() {
    let folder = tempfile::tempdir().unwrap();
    // Who reads and who writes must not meet.
    let pipe = |name: &str| {
        let path = folder.path().join(name).display().to_string();
        let made = std::process::Command::new("mkfifo").arg(&path).status();
        assert!(made.unwrap().success());
        path
    };
    let (pipe, to) = (pipe("from"), pipe("to"));
    let out = folder.path().join("out.wav").display().to_string();
    std::thread::scope(|scope| {
        for words in [
            vec!["copy", &pipe],
            vec!["copy", "--raw", "8000", &pipe],
            vec!["air", "--file", &pipe, "--out", &out],
            vec!["air", "CQ", "--out", &to],
            vec!["bench", "measure", &pipe],
            vec!["machine", "--settings", &pipe, "shack"],
            vec!["bench", "pattern", "--out", &to],
        ] {
            scope.spawn(move || {
                let done = markhold(words.iter().copied());
                assert_eq!(done.code, 2, "{words:?}: {}", done.err);
                assert!(
                    done.err.contains("this is a pipe that nobody"),
                    "{words:?}: {}",
                    done.err
                );
            });
        }
    });
}

/// What the system refuses is told in words, and a full disk is called that.
#[cfg(target_os = "linux")]
#[test]
fn what_the_system_refuses_is_told_in_words() {
    for (words, part) in [
        ("air CQ --out /dev/full", "the disk is full"),
        ("bench pattern --out /dev/full", "the disk is full"),
        ("air --file /nowhere/text --out /dev/null", "no such file"),
        ("machine --settings /nowhere/settings shack", "no such file"),
        ("bench pattern --out /nowhere/lines", "no such file"),
    ] {
        let done = markhold(words.split(' '));
        assert_eq!(done.code, 2, "{words}: {}", done.err);
        assert!(
            done.err.contains(part) && !done.err.contains("os error"),
            "{words}: {}",
            done.err
        );
    }
}

/// A settings file that is not there is not to blame.
#[test]
fn a_settings_file_that_is_not_there_is_not_to_blame() {
    let folder = tempfile::tempdir().unwrap();
    for (words, part) in [
        ("machine us-72-45 --set columns=3", "the command line: "),
        ("machine attic", "there is no "),
    ] {
        let done = command(words.split(' '))
            .env("XDG_CONFIG_HOME", folder.path())
            .output()
            .unwrap();
        let said = String::from_utf8(done.stderr).unwrap();
        assert!(said.contains(part), "{words}: {said}");
    }
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
