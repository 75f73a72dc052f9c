//! The machine's own keyboard: typed on a pseudo terminal in place of a machine, and what of it
//! is keyed, on a line that only writes down what it is told.
#![cfg(unix)]
#![allow(missing_docs, reason = "a test")]

mod common;

use common::markhold;
use markhold_code::{Code, EncodeOptions, FiguresRow, decode, encode};
use markhold_page::{Machine, Order, Ordered};
use markhold_station::answering::{Air, Answer, AnswerState, Hand, KeyboardSetup};
use markhold_station::{Room, Station, StationOptions};
use markhold_wire::keyboard::{Echo, KeyboardPlan};
use markhold_wire::play::{Patience, Player, Setup};
use markhold_wire::transmit::{Transmitter, TransmitterPlan};
use markhold_wire::{KeyerError, WrittenLine};
use serialport::{SerialPort, TTYPort};
use std::io::{Read, Write};
use std::sync::Arc;
use std::time::{Duration, Instant};

/// What sends a break on the way that these tests type by.
const BREAK: u8 = 255;

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

/// A machine at one end of a pseudo terminal, a station at the other.
struct Stand {
    machine: TTYPort,
    name: String,
    station: Station,
    air: WrittenLine,
    echo: Echo,
    hand: Hand,
}

fn stand(keys: &str) -> Stand {
    let (machine, slave) = TTYPort::pair().unwrap();
    let name = slave.name().unwrap();
    drop(slave);
    let settings = format!("[keyboard]\nway = \"codes:{name}\"\n{keys}");
    let plan = KeyboardPlan::of_settings(&settings, Default::default()).unwrap();
    let (echo, air) = (Echo::default(), WrittenLine::default());
    let options = StationOptions {
        air: Arc::new(Bench(air.clone())),
        keyboard: Some(KeyboardSetup {
            plan,
            echo: echo.clone(),
        }),
        patient: true,
        ..StationOptions::default()
    };
    let station = Station::start(options, "no such radio").expect("it waits");
    let stand = Stand {
        machine,
        name,
        station,
        air,
        echo,
        hand: Hand::new(),
    };
    stand.until("it is heard", |state| {
        state.keyboard.as_ref().is_some_and(|it| it.error.is_none())
    });
    stand
}

impl Stand {
    fn types(&mut self, text: &str) {
        let codes = encode(text, FiguresRow::Us, EncodeOptions::default()).unwrap();
        // Whoever types presses the letters key first: nobody knows where the machine was left.
        let codes = [Code::LETTERS].into_iter().chain(codes);
        let bytes: Vec<u8> = codes.map(Code::value).collect();
        self.machine.write_all(&bytes).unwrap();
    }

    fn ask(&self, answer: &Answer) -> Result<(), String> {
        self.station
            .answer(self.hand, answer)
            .map_err(|e| e.to_string())
    }

    fn arm(&self) {
        let arm = Answer::Arm {
            call: "Q1ABC".into(),
            minutes: 5.0,
            tones: None,
        };
        self.ask(&arm).unwrap();
    }

    fn until(&self, what: &str, so: impl Fn(&AnswerState) -> bool) -> AnswerState {
        let begun = Instant::now();
        loop {
            let _ = self.ask(&Answer::Here);
            let state = self.station.answering_in(Room::Radio);
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

    fn sent(&self) -> String {
        decode(&self.air.codes(), FiguresRow::Us, false).replace('\r', "")
    }
}

fn heard(state: &AnswerState) -> &markhold_station::answering::KeyboardState {
    state.keyboard.as_ref().expect("a keyboard is set")
}

#[test]
fn what_is_typed_on_the_machine_is_sent() {
    let mut stand = stand("");
    stand.arm();
    stand.types("CQ CQ DE Q1ABC 73\n");
    let waits = stand.until("it waits", |state| state.waiting.ends_with("73\n"));
    assert_eq!(
        (waits.typed, waits.on_the_air),
        (18, false),
        "typing keys nothing"
    );
    assert_eq!(stand.sent(), "");
    stand.ask(&Answer::Go).unwrap();
    stand.until("it goes", |state| state.waiting.is_empty());
    stand.types("GOOD EVENING K");
    stand.ask(&Answer::GoAndEnd).unwrap();
    stand.until("the first line has gone", |state| state.gone >= 18);
    stand.until("all of it is typed", |state| state.typed == 32);
    stand.ask(&Answer::Go).unwrap();
    stand.ask(&Answer::GoAndEnd).unwrap();
    let over = stand.until("it is over", |state| !state.on_the_air && state.gone == 32);
    assert!(over.latest.ends_with("GOOD EVENING K"), "{over:?}");
    let sent = stand.sent();
    let one_line = sent.split_whitespace().collect::<Vec<_>>().join(" ");
    // The second text may have come into the over of the first or begun one of its own.
    let calls = one_line.replace(" DE Q1ABC GOOD", " GOOD");
    assert_eq!(calls, "CQ CQ DE Q1ABC 73 GOOD EVENING K DE Q1ABC");
    stand.station.stop();
}

#[test]
fn typing_arms_nothing_and_what_was_typed_before_is_not_sent_after() {
    let mut stand = stand("begins = true");
    stand.types("RYRY\n");
    let state = stand.until("it is dropped", |state| heard(state).dropped == 5);
    assert_eq!((state.waiting.as_str(), state.armed_by), ("", None));
    stand.arm();
    let state = stand.until("it is armed", |state| state.armed_by.is_some());
    assert_eq!((state.waiting.as_str(), state.on_the_air), ("", false));
    assert!(stand.air.codes().is_empty());
    // Where typing begins an over, it does once a person has armed it.
    stand.types("QRZ?");
    stand.until("it goes", |state| state.on_the_air && state.gone == 4);
    stand.ask(&Answer::Finish).unwrap();
    stand.until("it is over", |state| !state.on_the_air);
    assert_eq!(stand.sent(), "\nQRZ?\nDE Q1ABC\n");
    stand.station.stop();
}

#[test]
fn a_break_stops_at_once_and_is_no_text() {
    let mut stand = stand("");
    stand.arm();
    let text = "RY".repeat(2000);
    let write = Answer::Write {
        gone: 0,
        typed: Some(0),
        text,
    };
    stand.ask(&write).unwrap();
    stand.ask(&Answer::Go).unwrap();
    stand.until("on the air", |state| state.on_the_air && state.gone > 10);
    stand.machine.write_all(&[BREAK]).unwrap();
    let begun = Instant::now();
    let state = stand.until("off", |state| state.armed_by.is_none());
    assert!(
        begun.elapsed() < Duration::from_secs(2),
        "{:?}",
        begun.elapsed()
    );
    let words = state.words.unwrap();
    assert!(
        words.contains("a break on the machine's keyboard"),
        "{words}"
    );
    std::thread::sleep(Duration::from_millis(30));
    let sent = stand.air.codes().len();
    std::thread::sleep(Duration::from_millis(60));
    assert_eq!(stand.air.codes().len(), sent, "nothing more goes");
    assert_eq!(state.typed, 0);
    stand.station.stop();
}

/// In a local loop what is printed comes back by the keyboard's line: here by this test.
#[test]
fn the_machines_own_printing_is_left_out_unless_it_is_wanted() {
    for (keys, expected) in [("", "QRU"), ("echo = \"wanted\"", "NEWS 73 QRU")] {
        let mut stand = stand(keys);
        stand.arm();
        let mut loops = looped(&stand.echo);
        let codes = encode("NEWS 73", FiguresRow::Us, EncodeOptions::default()).unwrap();
        let send = |code| Ordered {
            order: Order::Send(code),
            source: None,
        };
        let orders: Vec<Ordered> = codes.iter().copied().map(send).collect();
        loops.player.play(&orders);
        for _ in 0..orders.len() {
            let mut byte = [0];
            loops.machine.read_exact(&mut byte).unwrap();
            stand.machine.write_all(&byte).unwrap();
        }
        let suppressed = keys.is_empty();
        stand.until("the echo is back", |state| match suppressed {
            true => heard(state).echoes == orders.len() as u64,
            false => state.typed == 7,
        });
        // Long after it: nothing is due any more. The machine was left in figures.
        std::thread::sleep(Duration::from_millis(900));
        stand.types(if suppressed { "QRU" } else { " QRU" });
        let state = stand.until("typed", |state| state.waiting.ends_with("QRU"));
        assert_eq!(state.waiting, expected);
        stand.station.stop();
    }
}

/// A machine that prints by plain codes over another pseudo terminal.
struct Looped {
    machine: TTYPort,
    player: Player,
}

fn looped(echo: &Echo) -> Looped {
    let (mut machine, slave) = TTYPort::pair().unwrap();
    machine.set_timeout(Duration::from_secs(10)).unwrap();
    let setup = Setup {
        way: Some(format!("codes:{}", slave.name().unwrap()).parse().unwrap()),
        echo: Some(echo.clone()),
        ..Setup::of(Machine::default())
    };
    let open = setup.opener().unwrap();
    let patience = Patience {
        retry: Duration::from_secs(1),
        run_up_s: 0.0,
    };
    let player = Player::start(open, None, patience).unwrap();
    // It is open by its name now.
    drop(slave);
    Looped { machine, player }
}

#[test]
fn a_keyboard_that_goes_away_is_told_and_heard_again_when_it_is_back() {
    let mut stand = stand("");
    assert!(stand.name.starts_with("/dev/"));
    let (other, slave) = TTYPort::pair().unwrap();
    drop(slave);
    drop(std::mem::replace(&mut stand.machine, other));
    let state = stand.until("it is gone", |state| heard(state).error.is_some());
    let error = heard(&state).error.clone().unwrap();
    assert!(error.contains(&stand.name), "{error}");
    stand.station.stop();
}

#[test]
fn dry_what_is_typed_is_shown() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("typed");
    let codes = encode("QRU 73\nK", FiguresRow::Us, EncodeOptions::default()).unwrap();
    let mut bytes: Vec<u8> = codes.into_iter().map(Code::value).collect();
    bytes.push(BREAK);
    std::fs::write(&path, bytes).unwrap();
    let way = format!("codes:{}", path.display());
    let words = [
        "send",
        "--dry",
        "--keyboard",
        &way,
        "--settings",
        "/dev/null",
    ];
    let done = markhold(words);
    assert_eq!(
        (done.code, done.out.trim_end()),
        (0, "QRU 73\nK"),
        "{}",
        done.err
    );
    assert!(done.err.contains("a break"), "{}", done.err);
    let done = markhold([
        "send",
        "--dry",
        "--keyboard",
        "rts:x",
        "--settings",
        "/dev/null",
    ]);
    assert_eq!(done.code, 2);
    assert!(done.err.contains("cts:PORT"), "{}", done.err);
}
