//! Who may key, and when it is off: on a line that only writes down what it is told.

mod rounds;

use super::super::ears::{NoPair, ReceivedPair};
use super::*;
use markhold_code::{Tones, decode};
use markhold_event::SentLine;
use markhold_sound::Sideband;
use markhold_wire::transmit::TransmitterPlan;
use markhold_wire::{KeyerError, WrittenLine};

#[derive(Default)]
struct Bench(WrittenLine);

impl Air for Bench {
    fn plan(&self) -> Result<TransmitterPlan, String> {
        let settings = "[transmitter]\ncall = \"Q1ABC\"\nway = \"tones\"\nkey = \"by-hand\"\n\
                        wait_on_s = 0\nwait_off_s = 0\nmark_on_s = 0.2";
        TransmitterPlan::of_settings(settings, Default::default()).map_err(|e| e.to_string())
    }

    fn open(&self, plan: &TransmitterPlan) -> Result<Transmitter, KeyerError> {
        Ok(Transmitter::on_line(plan, Box::new(self.0.clone())))
    }
}

/// A receiver that hears what a test says.
#[derive(Default)]
struct Hears {
    busy: Mutex<Option<Busy>>,
    pair: Mutex<Option<ReceivedPair>>,
    /// For which tones it was asked last.
    asked: Mutex<Option<Tones>>,
}

impl Hears {
    fn set(&self, who: Option<(&str, bool)>) {
        *lock(&self.busy) = who.map(|(who, is_answer)| Busy {
            who: who.into(),
            is_answer,
        });
    }

    /// A pair on the lower sideband.
    fn set_pair(&self, tones: Option<(f64, f64)>) {
        *lock(&self.pair) = tones.map(|(mark_hz, space_hz)| ReceivedPair {
            tones: Tones { mark_hz, space_hz },
            sideband: Some(Sideband::Lower),
            rate_baud: 45.45,
        });
    }
}

impl Ears for Hears {
    fn busy(&self, tones: Tones) -> Option<Busy> {
        *lock(&self.asked) = Some(tones);
        lock(&self.busy).clone()
    }

    fn pair(&self) -> Result<ReceivedPair, NoPair> {
        let pair = lock(&self.pair).clone();
        pair.ok_or_else(|| NoPair::Nobody("nobody was copied".into()))
    }

    fn settles(&self) -> Duration {
        Duration::from_millis(50)
    }
}

struct Stand {
    answering: Answering,
    bench: Arc<Bench>,
    ears: Arc<Hears>,
    told: Arc<Mutex<Vec<AnswerState>>>,
    lines: Arc<Mutex<Vec<SentLine>>>,
}

fn stand() -> Stand {
    let (bench, told) = (Arc::new(Bench::default()), Arc::new(Mutex::new(Vec::new())));
    let tells = told.clone();
    let tell: Tell = Arc::new(move |state: &AnswerState| lock(&tells).push(state.clone()));
    let lines = Arc::new(Mutex::new(Vec::new()));
    let sent = lines.clone();
    let tell_sent: TellSent = Arc::new(move |line| lock(&sent).push(line));
    let ears = Arc::new(Hears::default());
    Stand {
        answering: Answering::new(bench.clone(), ears.clone(), tell, tell_sent),
        bench,
        ears,
        told,
        lines,
    }
}

fn arm() -> Answer {
    Answer::Arm {
        call: "q1abc".into(),
        minutes: 1.0,
        tones: None,
    }
}

fn write(gone: u64, text: &str) -> Answer {
    Answer::Write {
        gone,
        typed: None,
        text: text.into(),
    }
}

impl Stand {
    fn sent(&self) -> String {
        decode(&self.bench.0.codes(), markhold_code::FiguresRow::Us, false).replace('\r', "")
    }

    /// Waits, the hand being there, until it stands so.
    fn until(&self, hand: Hand, what: &str, so: impl Fn(&AnswerState) -> bool) -> AnswerState {
        let begun = Instant::now();
        loop {
            let _ = self.answering.ask(hand, &Answer::Here);
            let state = self.answering.state();
            if so(&state) {
                return state;
            }
            assert!(
                begun.elapsed() < Duration::from_secs(20),
                "{what}: {state:?}"
            );
            std::thread::sleep(Duration::from_millis(5));
        }
    }
}

#[test]
fn nothing_goes_out_that_this_hand_did_not_arm() {
    let stand = stand();
    let (one, other) = (Hand::new(), Hand::new());
    for answer in [
        write(0, "A"),
        Answer::Go,
        Answer::Finish,
        Answer::Stop,
        Answer::Here,
    ] {
        assert_eq!(
            stand.answering.ask(one, &answer),
            Err("it is not armed".into())
        );
    }
    let wrong = |call: &str, minutes| Answer::Arm {
        call: call.into(),
        minutes,
        tones: None,
    };
    for (answer, why) in [
        (wrong("Q1ABD", 1.0), "typing the call Q1ABC"),
        (wrong("", 1.0), "typing the call Q1ABC"),
        (wrong("Q1ABC", 61.0), "0.5 to 60"),
        (wrong("Q1ABC", f64::NAN), "0.5 to 60"),
    ] {
        assert!(stand.answering.ask(one, &answer).unwrap_err().contains(why));
    }
    stand.answering.ask(one, &arm()).unwrap();
    // Two at once do not mix.
    for answer in [
        arm(),
        write(0, "MINE"),
        Answer::Go,
        Answer::Pause,
        Answer::Stop,
        Answer::Here,
    ] {
        assert!(
            stand
                .answering
                .ask(other, &answer)
                .unwrap_err()
                .contains("another page")
        );
    }
    stand.answering.leave(other);
    assert_eq!(stand.answering.state().armed_by, Some(one));
    assert!(stand.sent().is_empty());
}

#[test]
fn text_waits_goes_is_corrected_and_ends_with_its_line() {
    let stand = stand();
    let hand = Hand::new();
    stand.answering.ask(hand, &arm()).unwrap();
    stand
        .answering
        .ask(hand, &write(0, "GOOD EVENING\nAND MOER"))
        .unwrap();
    assert!(stand.sent().is_empty(), "it waits");
    stand.answering.ask(hand, &Answer::Go).unwrap();
    stand.until(hand, "some has gone", |state| state.gone > 3);
    stand.answering.ask(hand, &Answer::Pause).unwrap();
    let paused = stand.until(hand, "paused", |state| state.paused && state.on_the_air);
    let rest: String = "GOOD EVENING\nAND MORE"
        .chars()
        .skip(paused.gone as usize)
        .collect();
    stand
        .answering
        .ask(hand, &write(paused.gone, &rest))
        .unwrap();
    stand.answering.ask(hand, &Answer::Finish).unwrap();
    let over = stand.until(hand, "it has ended", |state| !state.on_the_air);
    assert_eq!(
        (over.waiting.as_str(), over.latest.as_str()),
        ("AND MORE", "GOOD EVENING\n")
    );
    assert_eq!(stand.sent(), "\nGOOD EVENING\nDE Q1ABC\n");
    assert_eq!(over.armed_by, Some(hand));
    let seen = lock(&stand.told).iter().any(|state| state.on_the_air);
    assert!(seen, "it was told");
    let closed = lock(&stand.lines)
        .iter()
        .filter(|line| line.closed)
        .map(|line| (line.number, line.text.clone()))
        .collect::<Vec<_>>();
    assert_eq!(
        closed,
        [(0, "GOOD EVENING".to_string()), (1, "DE Q1ABC".to_string())]
    );
}

#[test]
fn it_is_off_when_stopped_left_silent_or_pulled_out() {
    let begun = || {
        let (stand, hand) = (stand(), Hand::new());
        stand.answering.ask(hand, &arm()).unwrap();
        stand
            .answering
            .ask(hand, &write(0, &"RY".repeat(4000)))
            .unwrap();
        stand.answering.ask(hand, &Answer::Go).unwrap();
        stand.until(hand, "on the air", |state| {
            state.on_the_air && state.gone > 3
        });
        (stand, hand)
    };
    let off = |stand: &Stand, hand, words: &str| {
        let state = stand.until(hand, "off", |state| state.armed_by.is_none());
        assert!(
            state
                .words
                .as_ref()
                .is_some_and(|told| told.contains(words)),
            "{state:?}"
        );
        std::thread::sleep(Duration::from_millis(30));
        let sent = stand.bench.0.codes().len();
        std::thread::sleep(Duration::from_millis(60));
        assert_eq!(stand.bench.0.codes().len(), sent, "nothing more goes");
        assert_eq!(
            stand.answering.ask(hand, &Answer::Go),
            Err("it is not armed".into())
        );
    };
    let (stand, hand) = begun();
    stand.answering.ask(hand, &Answer::Stop).unwrap();
    off(&stand, hand, "turned off");
    let (stand, hand) = begun();
    stand.answering.leave(hand);
    off(&stand, hand, "was closed");
    let (stand, hand) = begun();
    stand.bench.0.pull_out();
    off(&stand, hand, "went away");
    let (stand, hand) = begun();
    let silent = Instant::now();
    while stand.answering.state().armed_by.is_some() {
        assert!(silent.elapsed() < SILENCE + Duration::from_secs(2));
        std::thread::sleep(Duration::from_millis(20));
    }
    assert!(silent.elapsed() + Duration::from_millis(100) > SILENCE);
    off(&stand, hand, "fell silent");
}

#[test]
fn who_is_there_is_named_and_must_be_confirmed() {
    let stand = stand();
    let hand = Hand::new();
    stand.ears.set(Some(("a carrier at 2200 Hz", false)));
    assert_eq!(
        stand.answering.ask(hand, &Answer::Go),
        Err("it is not armed".into()),
        "what is not armed is refused as such"
    );
    stand.answering.ask(hand, &arm()).unwrap();
    stand.answering.ask(hand, &write(0, "RYRYRY")).unwrap();
    for go in [
        Answer::Go,
        Answer::Loop {
            text: "CQ".into(),
            pause_s: 1.0,
        },
    ] {
        let why = stand.answering.ask(hand, &go).unwrap_err();
        let asked = lock(&stand.ears.asked).take().unwrap();
        assert_eq!((asked.mark_hz, asked.space_hz), (2125.0, 2295.0));
        assert!(why.contains("a carrier at 2200 Hz is there"), "{why}");
        stand.answering.0.doubted.forget();
    }
    assert!(stand.sent().is_empty() && !stand.answering.state().loops);
    assert!(stand.answering.ask(hand, &Answer::Go).is_err());
    // Asked again, it is meant.
    stand.answering.ask(hand, &Answer::Go).unwrap();
    stand.until(hand, "on the air", |state| state.on_the_air);
    // While it sends, nobody is listened for.
    stand.answering.0.doubted.forget();
    stand.answering.ask(hand, &Answer::Go).unwrap();
}

/// Typing at the machine asks nobody: what is typed waits until nobody is heard, or a person says
/// in the page that it is meant.
#[test]
fn typing_begins_no_over_on_top_of_somebody() {
    let stand = stand();
    let hand = Hand::new();
    stand.answering.ask(hand, &arm()).unwrap();
    stand
        .ears
        .set(Some(("somebody in Morse at 2250 Hz", false)));
    stand.answering.typed("Q", true).unwrap();
    stand.answering.typed("R", true).unwrap();
    let state = stand.answering.state();
    let told = state.held_up.clone().unwrap_or_default();
    assert!(told.contains("Morse at 2250 Hz is there"), "{told}");
    assert_eq!((state.waiting.as_str(), state.on_the_air), ("QR", false));
    assert!(stand.sent().is_empty());
    // The next key, once nobody is heard.
    stand.ears.set(None);
    stand.answering.typed("L", true).unwrap();
    let state = stand.until(hand, "all of it goes", |state| state.latest == "QRL");
    assert_eq!(state.held_up, None);
    // Where typing begins nothing, nobody is named either.
    stand.answering.ask(hand, &Answer::Finish).unwrap();
    stand.until(hand, "it ends", |state| !state.on_the_air);
    stand.ears.set(Some(("a carrier at 2200 Hz", false)));
    stand.answering.typed("X", false).unwrap();
    assert_eq!(stand.answering.state().held_up, None);
}

/// Each over has the tones that the pair has when it begins; without one nothing is sent.
#[test]
fn an_over_follows_the_pair_that_is_received() {
    let stand = stand();
    let hand = Hand::new();
    stand.answering.ask(hand, &arm()).unwrap();
    let own = stand.answering.state().tones;
    assert_eq!(own.from, TonesFrom::Own);
    assert!(
        own.words
            .unwrap()
            .contains("mark 2125.0 Hz, space 2295.0 Hz: the transmitter's own")
    );
    stand
        .answering
        .ask(hand, &Answer::Tones(TonesFrom::Received))
        .unwrap();
    stand.answering.ask(hand, &write(0, "E\n")).unwrap();
    let why = stand.answering.ask(hand, &Answer::GoAndEnd).unwrap_err();
    assert!(
        why.contains("nobody was copied") && why.contains("its own tones"),
        "{why}"
    );
    assert_eq!(stand.answering.state().tones.refused, Some(why));
    assert!(stand.sent().is_empty() && stand.bench.0.tones().is_empty());
    let send = |tones: Option<(f64, f64)>| {
        stand.ears.set_pair(tones);
        let gone = stand.answering.state().gone;
        stand.answering.ask(hand, &write(gone, "E\n")).unwrap();
        stand.answering.ask(hand, &Answer::GoAndEnd).unwrap();
        stand.until(hand, "it has gone", |state| {
            state.gone == gone + 2 && !state.on_the_air
        });
        let told = stand.bench.0.tones().last().copied().unwrap();
        (told.mark_hz, told.space_hz)
    };
    assert_eq!(send(Some((1483.2, 1653.7))), (1483.2, 1653.7));
    assert_eq!(
        lock(&stand.ears.asked).unwrap().mark_hz,
        1483.2,
        "listened for there"
    );
    assert_eq!(
        send(Some((1660.0, 1490.0))),
        (1660.0, 1490.0),
        "it has moved"
    );
    // Nobody answers: the next over is where the last one was.
    assert_eq!(send(None), (1660.0, 1490.0));
    let words = stand.answering.state().tones.words.unwrap();
    assert!(words.contains("as in the over before"), "{words}");
    // Beyond the transmitter's audio nothing is sent.
    stand.ears.set_pair(Some((2700.0, 2870.0)));
    let why = stand.answering.ask(hand, &Answer::Go).unwrap_err();
    assert!(why.contains("beyond what the transmitter carries"), "{why}");
    // Its own again.
    stand
        .answering
        .ask(hand, &Answer::Tones(TonesFrom::Own))
        .unwrap();
    assert_eq!(send(None), (2125.0, 2295.0));
    let other = Answer::Tones(TonesFrom::Received);
    assert!(
        stand.answering.ask(Hand::new(), &other).is_err(),
        "only who armed it"
    );
}

#[test]
fn leave_ends_with_its_time() {
    let stand = stand();
    let hand = Hand::new();
    let half = Answer::Arm {
        call: "Q1ABC".into(),
        minutes: 0.5,
        tones: None,
    };
    stand.answering.ask(hand, &half).unwrap();
    // As if half a minute had passed.
    stand
        .answering
        .0
        .with(hand, |held| held.arming.arm(Duration::from_millis(50)))
        .unwrap();
    let state = stand.until(hand, "off", |state| state.armed_by.is_none());
    assert!(state.words.unwrap().contains("has ended"));
}
