//! Readings worked by hand.

use super::*;
use crate::Figure;
use crate::sked::tests::bulletin;

/// Worked by hand. Tones of 170 Hz around 7050.000 kHz: mark 7050.085 where it is the higher
/// one, 7049.915 where it is the lower. The published figure, what it means, which is mark;
/// what the dial shows and its pitch; reading, then mark and space as they are heard.
#[test]
fn readings_by_hand() {
    use Figure::*;
    use MarkOnAir::*;
    let lsb = |pitch_hz| LowerCarrier { pitch_hz };
    let usb = |pitch_hz| UpperCarrier { pitch_hz };
    for (khz, means, mark, shows, pitch, reading, tones) in [
        // Every meaning of the figure, heard on the lower sideband at 2210: 7050 + 2.210.
        (
            7050.000,
            Middle,
            Higher,
            Shows::LowerCarrier,
            2210.0,
            7052.210,
            Some((2125.0, 2295.0)),
        ),
        (
            7050.000,
            Middle,
            Lower,
            Shows::LowerCarrier,
            2210.0,
            7052.210,
            Some((2295.0, 2125.0)),
        ),
        (
            7050.085,
            Mark,
            Higher,
            Shows::LowerCarrier,
            2210.0,
            7052.210,
            Some((2125.0, 2295.0)),
        ),
        (
            7049.915,
            Mark,
            Lower,
            Shows::LowerCarrier,
            2210.0,
            7052.210,
            Some((2295.0, 2125.0)),
        ),
        (
            7051.700,
            lsb(1700.0),
            Higher,
            Shows::LowerCarrier,
            2210.0,
            7052.210,
            Some((2125.0, 2295.0)),
        ),
        (
            7048.300,
            usb(1700.0),
            Higher,
            Shows::LowerCarrier,
            2210.0,
            7052.210,
            Some((2125.0, 2295.0)),
        ),
        (
            7048.300,
            usb(1700.0),
            Lower,
            Shows::LowerCarrier,
            2210.0,
            7052.210,
            Some((2295.0, 2125.0)),
        ),
        // On the upper sideband: 7050 - 2.210; mark that is higher sounds higher.
        (
            7050.000,
            Middle,
            Higher,
            Shows::UpperCarrier,
            2210.0,
            7047.790,
            Some((2295.0, 2125.0)),
        ),
        (
            7050.000,
            Middle,
            Lower,
            Shows::UpperCarrier,
            2210.0,
            7047.790,
            Some((2125.0, 2295.0)),
        ),
        (
            7050.085,
            Mark,
            Higher,
            Shows::UpperCarrier,
            2210.0,
            7047.790,
            Some((2295.0, 2125.0)),
        ),
        (
            7049.915,
            Mark,
            Lower,
            Shows::UpperCarrier,
            2210.0,
            7047.790,
            Some((2125.0, 2295.0)),
        ),
        (
            7051.700,
            lsb(1700.0),
            Lower,
            Shows::UpperCarrier,
            2210.0,
            7047.790,
            Some((2125.0, 2295.0)),
        ),
        // Heard where it was sent: the dial shows the published carrier itself.
        (
            7051.700,
            lsb(1700.0),
            Higher,
            Shows::LowerCarrier,
            1700.0,
            7051.700,
            Some((1615.0, 1785.0)),
        ),
        (
            7048.300,
            usb(1700.0),
            Higher,
            Shows::UpperCarrier,
            1700.0,
            7048.300,
            Some((1785.0, 1615.0)),
        ),
        // A dial that shows mark, and one that shows what is heard at 700 Hz.
        (
            7050.000,
            Middle,
            Higher,
            Shows::Mark,
            2210.0,
            7050.085,
            None,
        ),
        (7050.000, Middle, Lower, Shows::Mark, 2210.0, 7049.915, None),
        (
            7050.000,
            Middle,
            Higher,
            Shows::Heard,
            700.0,
            7050.000,
            None,
        ),
        (7050.085, Mark, Higher, Shows::Heard, 700.0, 7050.000, None),
    ] {
        let sked = Sked {
            mark: Some(mark),
            ..bulletin()
        };
        let dial = Dial {
            shows,
            pitch_hz: pitch,
            ..Dial::default()
        };
        let set = dial.setting(&sked, &Channel { khz, means });
        let case = format!("{khz} {means:?} {mark:?} {shows:?}: {set:?}");
        assert!(
            (set.khz - reading).abs() < 1e-6 && set.khz == set.exact_khz,
            "{case}"
        );
        let heard = set.tones.map(|t| (t.mark_hz.round(), t.space_hz.round()));
        assert_eq!(heard, tones, "{case}");
    }
}

/// 3595.2 is mark of 850 Hz reversed: the middle is 3595.2 + 0.425 = 3595.625; heard at 1275
/// on the upper sideband: 3594.350. It reads 0.6 low: 3593.750. Steps of 0.4: 3593.6, 150 Hz
/// too low, so tones 150 Hz higher: 1275 - 425 + 150 = 1000 (mark is lower) and 1850.
#[test]
fn error_and_steps_by_hand() {
    let sked = Sked {
        shift_hz: Some(850.0),
        mark: Some(MarkOnAir::Lower),
        ..bulletin()
    };
    let dial = Dial {
        shows: Shows::UpperCarrier,
        pitch_hz: 1275.0,
        step_hz: 400.0,
        up: Turn::CounterClockwise,
    };
    let channel = Channel {
        khz: 3595.2,
        means: Figure::Mark,
    };
    let set = dial.set(&sked, &channel, -600.0);
    assert!((set.exact_khz - 3593.750).abs() < 1e-6, "{set:?}");
    assert!((set.khz - 3593.6).abs() < 1e-6, "{set:?}");
    let tones = set.tones.unwrap();
    assert!((tones.mark_hz - 1000.0).abs() < 1e-3 && (tones.space_hz - 1850.0).abs() < 1e-3);
    let text = set.steps.join("\n");
    for said in [
        "3595.200 + 0.425 = 3595.625 kHz",
        "3595.625 - 1.275 = 3594.350 kHz",
        "0.600 low",
        "3594.350 - 0.600 = 3593.750",
        "150 Hz counter-clockwise",
        "mark is heard at 1000 Hz",
    ] {
        assert!(text.contains(said), "{said} in\n{text}");
    }
}

#[test]
fn what_is_assumed_is_said() {
    let sked = Sked {
        shift_hz: None,
        mark: None,
        ..bulletin()
    };
    let set = Dial::default().setting(&sked, &sked.channels[0]);
    let text = set.steps.join("\n");
    assert!(
        text.contains("assumed") && text.contains("170") && text.contains("higher"),
        "{text}"
    );
}

/// What is heard where it is to be heard, with the dial where it is to stand, shows no error;
/// a dial that reads high shows so much.
#[test]
fn an_error_is_what_is_read_too_much() {
    let sked = bulletin();
    for shows in [Shows::LowerCarrier, Shows::UpperCarrier] {
        let dial = Dial {
            shows,
            ..Dial::default()
        };
        for channel in &sked.channels {
            for error in [-600.0, 0.0, 250.0] {
                let set = dial.set(&sked, channel, error);
                let found = dial.reads_high_hz(&sked, channel, (set.exact_khz, dial.pitch_hz));
                assert!(
                    (found.unwrap() - error).abs() < 1e-3,
                    "{shows:?} {error} {found:?}"
                );
            }
        }
    }
    let dial = Dial {
        shows: Shows::Mark,
        ..Dial::default()
    };
    assert_eq!(
        dial.reads_high_hz(&sked, &sked.channels[0], (3595.2, 2210.0)),
        None
    );
}
