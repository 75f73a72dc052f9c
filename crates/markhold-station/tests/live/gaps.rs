//! Lost sound, vanished devices, other rates: reported, marked, and time goes on.

use super::played::{Play, Played, characters, events, played, printed, sound_of};
use super::played::{start, until_end};
use markhold_receive::event::Event;
use markhold_station::live::{InputReport, LiveOptions, Report, Taken};
use std::sync::Arc;

const TEXT: &str = "NW NW NW DE Q1ABC GOOD EVENING ALL FROM THE HARBOUR CLUB";

fn gone() -> Play {
    Play::Happens(Taken::Gone {
        why: "the server went away".into(),
    })
}

fn back(lost: u64) -> Play {
    Play::Happens(Taken::Back { lost })
}

/// What was told of the input, in order.
fn inputs(reports: &[Arc<Report>]) -> Vec<InputReport> {
    let inputs = reports.iter().filter_map(|report| match report.as_ref() {
        Report::Input(input) => Some(input.clone()),
        _ => None,
    });
    inputs.collect()
}

fn play(source: Box<Played>) -> (Vec<Arc<Report>>, String) {
    let (live, mut subscription) = start(source, LiveOptions::default());
    let reports = until_end(&mut subscription);
    live.stop();
    let text = printed(&characters(&events(&reports)));
    (reports, text)
}

#[test]
fn a_short_gap_costs_what_was_sent_in_it_and_no_more() {
    let sound = sound_of(TEXT, 8000);
    let (before, rest) = sound.split_at(40_000);
    let gap = Play::Happens(Taken::Gap { lost: 8000 });
    let source = played([
        Play::Sound(before.to_vec()),
        gap,
        Play::Sound(rest[8000..].to_vec()),
    ]);
    let (reports, text) = play(source);
    let gap = InputReport::Gap {
        at_s: 5.0,
        lost_s: 1.0,
    };
    assert!(inputs(&reports).contains(&gap), "{:?}", inputs(&reports));
    assert!(text.contains("HARBOUR CLUB"), "{text}");
    // The time of what follows is that of the sound without the gap.
    let last = characters(&events(&reports)).last().expect("some").start_s;
    let whole = play(played([Play::Sound(sound)])).0;
    let expected = characters(&events(&whole)).last().expect("some").start_s;
    assert!((last - expected).abs() < 0.01, "{last} against {expected}");
}

#[test]
fn a_device_that_comes_back_is_taken_up_again() {
    let sound = sound_of(TEXT, 8000);
    let source = played([
        Play::Sound(sound.clone()),
        gone(),
        Play::Happens(Taken::Nothing),
        back(800_000),
        Play::Sound(sound),
    ]);
    let (reports, text) = play(source);
    assert_eq!(text.matches("HARBOUR CLUB").count(), 2, "{text}");
    let told = inputs(&reports);
    assert!(matches!(&told[1], InputReport::Gone { why, .. } if why.contains("server")));
    assert!(matches!(&told[2], InputReport::Back { lost_s, .. } if *lost_s == 100.0));
    let found: Vec<u32> = events(&reports)
        .iter()
        .filter_map(|event| match event {
            Event::Found(signal) => Some(signal.id.0),
            _ => None,
        })
        .collect();
    assert_eq!(found, [1, 2], "names go on");
}

#[test]
fn it_may_come_back_at_another_rate() {
    let source = played([
        Play::Sound(sound_of(TEXT, 8000)),
        gone(),
        Play::Rate(12_000),
        back(8000),
        Play::Sound(sound_of(TEXT, 12_000)),
    ]);
    let (reports, text) = play(source);
    assert_eq!(text.matches("HARBOUR CLUB").count(), 2, "{text}");
    let copied = characters(&events(&reports));
    let in_order = copied.windows(2).all(|w| w[0].start_s < w[1].start_s);
    assert!(in_order, "times go on");
}
