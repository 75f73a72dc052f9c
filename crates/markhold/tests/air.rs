//! `markhold air` as a script sees it.
#![allow(missing_docs, reason = "tests")]

mod common;
use common::*;

#[test]
fn the_same_options_give_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let way = [
        "--es-n0",
        "10",
        "--paths",
        "1ms,0.5Hz",
        "--crashes",
        "1",
        "--neighbour=-200,5,18",
        "--drift=-3",
        "--warm-up",
        "20,60",
        "--jump",
        "2,-15",
        "--agc",
        "--voice=-10",
        "--mark",
        "higher",
        "--pace",
        "3",
        "--model",
        "two-oscillators",
        "--seed",
        "7",
    ];
    let [one, two] = ["a.wav", "b.wav"].map(|name| recording(&folder, name, "RYRY", &way));
    let bytes = std::fs::read(one).unwrap();
    assert!(bytes == std::fs::read(two).unwrap());
    let other = [&way[..way.len() - 1], &["8"]].concat();
    assert!(bytes != std::fs::read(recording(&folder, "c.wav", "RYRY", &other)).unwrap());
}

/// Length from the handbook's arithmetic: 7.5 units of 22 ms for each character.
#[test]
fn the_length_is_that_of_its_parts() {
    let folder = tempfile::tempdir().unwrap();
    let times = [
        "--before",
        "0.5",
        "--lead",
        "1",
        "--tail",
        "2",
        "--silence",
        "0.25",
    ];
    for (format, bits) in [(None, 16), (Some("--float"), 32)] {
        let more: Vec<&str> = times.into_iter().chain(format).collect();
        let path = recording(&folder, "x.wav", "RYRYRYRYRY", &more);
        let reader = hound::WavReader::open(path).unwrap();
        assert_eq!(
            (reader.spec().sample_rate, reader.spec().bits_per_sample),
            (12_000, bits)
        );
        let expected = (3.75 + 10.0 * 7.5 * 0.022) * 12_000.0;
        assert!((f64::from(reader.duration()) - expected).abs() <= 1.0);
    }
}

#[test]
fn a_stream_holds_the_samples_of_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let path = recording(&folder, "x.wav", "RY", &[]);
    let output = command(["air", "RY", "--out", "-"]).output().unwrap();
    assert!(output.status.success());
    // The same header but for the sizes.
    let file = std::fs::read(path).unwrap();
    assert_eq!(output.stdout.len(), file.len());
    assert!(output.stdout[80..] == file[80..]);
}

#[test]
fn text_that_cannot_be_sent_is_told_or_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("x.wav").display().to_string();
    let text = "GOOD EVENING\nFROM 20 % OF US";
    let done = markhold(["air", text, "--out", &out]);
    assert_eq!(done.code, 2);
    for part in ["line 2, column 9", "%", "U+0025"] {
        assert!(done.err.contains(part), "{}", done.err);
    }
    assert!(!std::path::Path::new(&out).exists());
    recording(&folder, "x.wav", text, &["--replace", "/"]);
}

#[test]
fn bad_values_say_what_was_found_and_what_to_give() {
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("x.wav").display().to_string();
    let nowhere = folder.path().join("no/such/x.wav").display().to_string();
    let latin = folder.path().join("latin.txt").display().to_string();
    std::fs::write(&latin, b"GR\xFC\xDFE").unwrap();
    let cases: [(&[&str], &str); 11] = [
        (&["", "--out", &out], "the text is empty"),
        (&["--file", &latin, "--out", &out], "byte 2 is FC"),
        (&["RY"], "--out"),
        (&["--out", &out], "<TEXT"),
        (&["RY", "--out", &nowhere], "no such file"),
        (
            &["RY", "--out", &out, "--centre", "5990"],
            "a tone of sender 1",
        ),
        (
            &["RY", "--out", &out, "--sample-rate", "4000"],
            "sample rate is 4000",
        ),
        (
            &["RY", "--out", &out, "--shift", "0"],
            "shift of sender 1 is 0",
        ),
        (
            &["RY", "--out", &out, "--paths", "stormy"],
            "\"stormy\" is not understood",
        ),
        (
            &["RY", "--out", &out, "--jump", "5"],
            "1 numbers found, 2 expected",
        ),
        (&["--file", &nowhere, "--out", &out], "x.wav"),
    ];
    for (words, expected) in cases {
        let done = markhold(["air"].into_iter().chain(words.iter().copied()));
        assert_eq!(done.code, 2, "{words:?}");
        assert!(done.err.contains(expected), "{}", done.err);
    }
}
