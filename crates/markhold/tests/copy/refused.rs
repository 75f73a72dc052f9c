//! What cannot be copied is told in one line, with a code of its own.

use super::*;

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
