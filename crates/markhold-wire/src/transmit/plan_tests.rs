//! What a transmitter's settings say, and what is wrong with them.

use super::*;
use crate::Wire;

fn plan(keys: &str) -> Result<TransmitterPlan, String> {
    let settings = format!("[transmitter]\n{keys}\n[machine.shack]\ncolumns = 74");
    TransmitterPlan::of_settings(&settings, Table::new()).map_err(|error| error.to_string())
}

#[test]
fn nothing_is_set_that_could_send() {
    let plan = TransmitterPlan::of_settings("", Table::new()).unwrap();
    assert_eq!(
        (plan.way(), plan.key.clone(), plan.call.clone()),
        (None, None, None)
    );
    assert_eq!(plan, TransmitterPlan::default());
}

/// Mark is the higher radio frequency unless the sense is turned.
#[test]
fn sideband_and_sense_give_the_tones() {
    for (keys, mark_hz, space_hz) in [
        ("", 2125.0, 2295.0),
        ("sideband = \"upper\"", 2295.0, 2125.0),
        ("reversed = true", 2295.0, 2125.0),
        (
            "sideband = \"upper\"\nreversed = true\nlower_hz = 1000\nshift_hz = 850",
            1000.0,
            1850.0,
        ),
    ] {
        let tones = plan(keys).unwrap().tones();
        assert_eq!(
            (tones.mark_hz, tones.space_hz),
            (mark_hz, space_hz),
            "{keys}"
        );
    }
}

#[test]
fn a_wire_of_the_lines_own_port_is_one_of_no_other() {
    let same = plan("way = \"break:/dev/ttyS0\"\nkey = \"rts:/dev/ttyS0\"").unwrap();
    assert_eq!(same.key(), KeyWords::Wire(Wire::Rts, None));
    let Some(Way::Timed(timed)) = same.way() else {
        panic!("{same:?}");
    };
    assert_eq!((timed.motor, timed.inverted), (Some(Wire::Rts), false));
    let other =
        plan("way = \"dtr:/dev/ttyS0\"\ninverted = true\nkey = \"rts:/dev/ttyS1\"").unwrap();
    assert_eq!(
        other.key(),
        KeyWords::Wire(Wire::Rts, Some("/dev/ttyS1".into()))
    );
    let Some(Way::Timed(timed)) = other.way() else {
        panic!("{other:?}");
    };
    assert_eq!((timed.motor, timed.inverted), (None, true));
}

/// What was found, what was expected, and what to do.
#[test]
fn what_is_wrong_is_told() {
    for (keys, parts) in [
        ("colums = 3", ["colums", "columns"]),
        ("call = \"q1abc\"", ["q1abc", "licence"]),
        ("way = \"smoke\"", ["smoke", "serial:PORT"]),
        ("way = \"codes:/tmp/x\"", ["interface", "expected"]),
        ("key = \"smoke\"", ["smoke", "by-hand"]),
        ("key = \"command\"", ["key_on", "give both"]),
        ("rate_baud = 3", ["rate_baud = 3", "30"]),
        ("rate_baud = 0", ["rate_baud = 0", "30"]),
        ("level = 0", ["level = 0", "0.001 to 1"]),
        ("mark_on_s = 0.1", ["mark_on_s = 0.1", "0.165 to 10"]),
        (
            "wait_on_s = 0\nkey = \"rts:/dev/x\"",
            ["wait_on_s = 0", "0.020"],
        ),
        ("longest_over_s = 5", ["longest_over_s = 5", "7.8"]),
        ("line_end = \"CR\"", ["line_end", "CR CR LF LTRS"]),
        ("figures = \"x\"", ["figures", "ita2"]),
        (
            "way = \"serial:/dev/x\"\ninverted = true",
            ["inverted", "cable"],
        ),
        (
            "way = \"serial:/dev/x\"\nmorse_every_s = 600",
            ["morse_every_s", "by the clock"],
        ),
        (
            "way = \"rts:/dev/x\"\nkey = \"rts\"",
            ["same wire", "one each"],
        ),
        (
            "way = \"tones\"\nkey = \"rts\"",
            ["without its port", "rts:PORT"],
        ),
    ] {
        let error = plan(keys).unwrap_err();
        for part in parts {
            assert!(
                error.starts_with("[transmitter]") && error.contains(part),
                "{keys}: {error:?} lacks {part:?}"
            );
        }
    }
    let error = TransmitterPlan::of_settings("transmitter = 3", Table::new()).unwrap_err();
    assert!(error.to_string().contains("write [transmitter]"), "{error}");
}

#[test]
fn whose_tones_go_out_is_told_to_a_way_with_tones_only() {
    assert_eq!(plan("").unwrap().tones, TonesFrom::Own);
    let taken = plan("way = \"tones\"\ntones = \"received\"").unwrap();
    assert_eq!(taken.tones, TonesFrom::Received);
    for (keys, said) in [
        (
            "way = \"rts:/dev/ttyS0\"\ntones = \"received\"",
            "makes its tones itself",
        ),
        ("tones = \"theirs\"", "theirs"),
        (
            "audio_to_hz = 310",
            "audio_to_hz = 310: expected 320.000 to 20000",
        ),
        (
            "audio_from_hz = 10",
            "audio_from_hz = 10: expected 20.000 to 3000",
        ),
    ] {
        let error = plan(keys).unwrap_err();
        assert!(error.contains(said), "{error}");
    }
}
