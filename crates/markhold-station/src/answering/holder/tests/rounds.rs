//! A loop of tape, between its rounds.

use super::*;

/// A loop waits while anybody is there, goes on by itself once nobody has been heard for its
/// pause, and ends when it is answered.
#[test]
fn a_loop_listens_before_each_round() {
    let stand = stand();
    let hand = Hand::new();
    let rounds = || stand.sent().matches("CQ DE Q1ABC K").count();
    let tape = Answer::Loop {
        text: "CQ DE Q1ABC K\n".into(),
        pause_s: 1.0,
    };
    stand.answering.ask(hand, &arm()).unwrap();
    stand.answering.ask(hand, &tape).unwrap();
    stand.until(hand, "the first round", |state| {
        state.on_the_air || state.gone > 0
    });
    stand.ears.set(Some(("a carrier at 2200 Hz", false)));
    let state = stand.until(hand, "it is held up", |state| state.held_up.is_some());
    let told = state.held_up.unwrap();
    assert!(
        told.contains("The loop waits") && told.contains("a carrier at 2200 Hz is there"),
        "{told}"
    );
    // Longer than its pause.
    let held = Instant::now();
    while held.elapsed() < Duration::from_millis(1500) {
        stand.until(hand, "it waits", |state| state.loops && !state.on_the_air);
        std::thread::sleep(Duration::from_millis(50));
    }
    assert_eq!(rounds(), 1);
    stand.ears.set(None);
    stand.until(hand, "the second round", |_| rounds() == 2);
    stand.until(hand, "nothing is told", |state| state.held_up.is_none());
    stand.ears.set(Some((
        "a signal of 45 baud at 2210 Hz, on your tones,",
        true,
    )));
    let state = stand.until(hand, "it is answered", |state| !state.loops);
    let told = state.held_up.unwrap();
    assert!(
        told.contains("has ended: a signal of 45 baud at 2210 Hz, on your tones, was heard"),
        "{told}"
    );
    stand.ears.set(None);
    let ended = Instant::now();
    while ended.elapsed() < Duration::from_millis(1500) {
        stand.until(hand, "it stays so", |state| !state.on_the_air);
        std::thread::sleep(Duration::from_millis(50));
    }
    assert_eq!(rounds(), 2);
    assert_eq!(stand.answering.state().armed_by, Some(hand), "and armed");
}

/// A loop whose pair is lost waits for one.
#[test]
fn a_loop_without_its_pair_waits() {
    let stand = stand();
    let hand = Hand::new();
    stand.ears.set_pair(Some((1500.0, 1670.0)));
    stand.answering.ask(hand, &arm()).unwrap();
    stand
        .answering
        .ask(hand, &Answer::Tones(TonesFrom::Received))
        .unwrap();
    let tape = Answer::Loop {
        text: "CQ DE Q1ABC K\n".into(),
        pause_s: 1.0,
    };
    stand.answering.ask(hand, &tape).unwrap();
    stand.until(hand, "a round", |state| state.gone > 3);
    stand.ears.set_pair(Some((2650.0, 2820.0)));
    let state = stand.until(hand, "it waits", |state| state.held_up.is_some());
    let told = state.held_up.unwrap();
    assert!(
        told.contains("The loop waits") && told.contains("beyond"),
        "{told}"
    );
    assert!(state.loops && !state.on_the_air);
}

#[test]
fn a_loop_comes_round_until_something_is_written() {
    let stand = stand();
    let hand = Hand::new();
    stand.answering.ask(hand, &arm()).unwrap();
    let tape = |text: &str, pause_s| Answer::Loop {
        text: text.into(),
        pause_s,
    };
    for (text, pause_s) in [("", 1.0), ("CQ", 0.5), ("CQ", f64::NAN)] {
        assert!(stand.answering.ask(hand, &tape(text, pause_s)).is_err());
    }
    stand
        .answering
        .ask(hand, &tape("CQ DE Q1ABC K\n", 1.0))
        .unwrap();
    let twice = |_: &AnswerState| stand.sent().matches("CQ DE Q1ABC K").count() == 2;
    let state = stand.until(hand, "it comes round", twice);
    assert!(state.loops);
    stand.answering.ask(hand, &write(state.gone, "")).unwrap();
    let state = stand.until(hand, "it ends", |state| !state.on_the_air && !state.loops);
    std::thread::sleep(Duration::from_millis(1300));
    assert_eq!(stand.answering.state().gone, state.gone);
}
