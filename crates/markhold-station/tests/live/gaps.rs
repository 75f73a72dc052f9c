//! Lost sound, vanished devices, other rates: reported, marked, and time goes on.

use super::played::{Play, Recorder, listen, played, printed, sound_of, start, wait_for_end};
use markhold_event::{Character, Event};
use markhold_shelf::GapCause;
use markhold_sound::{Source, Taken};
use markhold_station::live::{Live, LiveOptions};
use markhold_station::report::InputReport;
use std::collections::VecDeque;
use std::time::{Duration, Instant};

const TEXT: &str = "NW NW NW DE Q1ABC GOOD EVENING ALL FROM THE HARBOUR CLUB";

fn gone() -> Play {
    Play::Happens(Taken::Gone {
        why: "the server went away".into(),
    })
}

fn back(lost: u64) -> Play {
    Play::Happens(Taken::Back { lost })
}

/// A source over which the program stumbles.
struct Faulty;

impl Source for Faulty {
    fn name(&self) -> String {
        "a test".into()
    }

    fn rate(&self) -> u32 {
        8000
    }

    fn is_live(&self) -> bool {
        true
    }

    fn take(&mut self, _block: &mut Vec<f32>) -> Taken {
        panic!("a fault of the program, made by this test");
    }
}

/// Where nothing is heard any more, by a fault of the program, that is told, and it ends when asked.
#[test]
fn a_fault_of_the_program_is_no_silence() {
    let live = Live::start(Box::new(Faulty), LiveOptions::default()).expect("settings that work");
    let begun = Instant::now();
    let gone = loop {
        if let Some(gone) = live.board().look(|sum| sum.gone.clone()) {
            break gone;
        }
        assert!(
            begun.elapsed() < Duration::from_secs(60),
            "nothing was told"
        );
        std::thread::sleep(Duration::from_millis(5));
    };
    assert!(gone.contains("a fault of this program"), "{gone}");
    live.stop();
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
    let (kept, told) = listen(source);
    let gap = InputReport::Gap {
        at_s: 5.0,
        lost_s: 1.0,
    };
    assert!(told.inputs.contains(&gap), "{:?}", told.inputs);
    assert_eq!(
        (kept.samples.len(), kept.lost),
        (sound.len() - 8000, vec![(Some(8000), GapCause::Lost)])
    );
    let text = printed(&told.sheet);
    assert!(text.contains("HARBOUR CLUB"), "{text}");
    // The time of what follows is that of the sound without the gap.
    let last = |sheet: &VecDeque<Character>| sheet.back().expect("some").start_s;
    let whole = listen(played([Play::Sound(sound)])).1;
    let (found, expected) = (last(&told.sheet), last(&whole.sheet));
    assert!(
        (found - expected).abs() < 0.01,
        "{found} against {expected}"
    );
}

#[test]
fn a_loss_of_unknown_length_is_marked_as_such_and_takes_no_time() {
    let sound = sound_of(TEXT, 8000);
    let (before, rest) = sound.split_at(40_000);
    let source = played([
        Play::Sound(before.to_vec()),
        Play::Happens(Taken::Lost),
        Play::Sound(rest.to_vec()),
    ]);
    let (kept, told) = listen(source);
    assert_eq!(kept.lost, [(None, GapCause::Lost)]);
    let lost = InputReport::Lost { at_s: 5.0 };
    assert!(told.inputs.contains(&lost), "{:?}", told.inputs);
    assert_eq!(kept.samples, sound);
}

#[test]
fn between_two_inputs_listening_was_stopped() {
    for (first, before) in [
        (played([Play::Sound(vec![0.0; 8000])]), GapCause::Stopped),
        (
            played([Play::Sound(vec![0.0; 8000]), gone()]),
            GapCause::Device,
        ),
    ] {
        let recorder = Recorder::default();
        let live = start(first, &recorder);
        wait_for_end(&live);
        let second = played([Play::Sound(vec![0.0; 8000])]);
        live.listen_to(second).expect("a rate that works");
        live.stop();
        let kept = recorder.0.lock().expect("it has ended").clone();
        assert_eq!(kept.before, [GapCause::Stopped, before]);
    }
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
    let (kept, told) = listen(source);
    assert_eq!(kept.lost, [(Some(800_000), GapCause::Device)]);
    let text = printed(&told.sheet);
    assert_eq!(text.matches("HARBOUR CLUB").count(), 2, "{text}");
    let went =
        |i: &InputReport| matches!(i, InputReport::Gone { why, .. } if why.contains("server"));
    let came = |i: &InputReport| matches!(i, InputReport::Back { lost_s, .. } if *lost_s == 100.0);
    let (went, came) = (
        told.inputs.iter().position(went),
        told.inputs.iter().position(came),
    );
    assert!(went.is_some() && went < came, "{:?}", told.inputs);
    let names: Vec<u32> = told.ended.iter().map(|signal| signal.id.0).collect();
    assert_eq!(names, [1, 2], "names go on");
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
    let (kept, told) = listen(source);
    let text = printed(&told.sheet);
    assert_eq!(text.matches("HARBOUR CLUB").count(), 2, "{text}");
    let [first, second] = kept.begun[..] else {
        panic!("{:?}", kept.begun)
    };
    assert_eq!((first, second.0), ((8000, 0.0), 12_000));
    assert_eq!(kept.before[1], GapCause::Device);
    let ended = |e: &Event| matches!(e, Event::Ended(signal) if signal.id.0 == 1);
    let first_end = kept.events.iter().position(ended).expect("it ended");
    assert_eq!(
        kept.events_at_begin,
        [0, first_end + 1],
        "its copy comes first"
    );
    let starts: Vec<f64> = told.sheet.iter().map(|c| c.start_s).collect();
    assert!(starts.is_sorted(), "times go on");
    assert!(starts.last().is_some_and(|last| *last > second.1));
}

/// The computer's clock is put forward by a day in the middle, and another input chosen then.
#[test]
fn a_clock_that_is_set_makes_no_gap() {
    use markhold_station::live::{Clocks, Live, LiveOptions};
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, Ordering::SeqCst};
    use std::time::{Duration, Instant};
    let recorder = Recorder::default();
    let set = Arc::new(AtomicBool::new(false));
    let (seen, begin) = (set.clone(), Instant::now());
    let clocks = Clocks {
        wall: Box::new(move || {
            let now = jiff::Timestamp::from_second(1_790_000_000).expect("a time");
            let day = if seen.load(SeqCst) { 86_400 } else { 0 };
            now + begin.elapsed() + jiff::SignedDuration::from_secs(day)
        }),
        steady: Box::new(move || begin.elapsed()),
    };
    let options = LiveOptions {
        keeper: Box::new(recorder.clone()),
        clocks,
        ..LiveOptions::default()
    };
    let live = Live::start(played([Play::Sound(vec![0.0; 8000])]), options).expect("a rate");
    wait_for_end(&live);
    set.store(true, SeqCst);
    while recorder.0.lock().expect("no panic").steps.is_empty() {
        assert!(begin.elapsed() < Duration::from_secs(20), "it is not told");
        std::thread::sleep(Duration::from_millis(20));
    }
    live.listen_to(played([Play::Sound(vec![0.0; 8000])]))
        .expect("a rate that works");
    live.stop();
    let kept = recorder.0.lock().expect("it has ended").clone();
    assert!(
        kept.steps.len() == 1 && (kept.steps[0] - 86_400.0).abs() < 1.0,
        "{:?}",
        kept.steps
    );
    let between = kept.clock[1].duration_since(kept.clock[0]);
    assert!(between < jiff::SignedDuration::from_secs(60), "{between:?}");
    let told = live.board().snapshot().inputs;
    assert!(
        told.iter()
            .any(|i| matches!(i, InputReport::ClockSet { .. })),
        "{told:?}"
    );
}
