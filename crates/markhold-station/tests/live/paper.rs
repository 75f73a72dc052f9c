//! The live copy on a machine's paper, over a socket in place of a machine.

use super::played::{Play, Recorder, played, printed, sound_of, start, wait_for_end};
use markhold_code::{Code, FiguresRow, decode};
use markhold_page::Machine;
use markhold_station::live::Live;
use markhold_station::paper::{Paper, PaperPlan, Tell};
use markhold_station::report::PaperState;
use markhold_wire::play::Setup;
use std::io::Read;
use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use tokio::sync::watch;

const TEXT: &str = "RYRYRY DE Q1ABC GOOD EVENING ALL FROM THE HARBOUR CLUB";

/// A machine of this speed at the other end of a socket.
fn plan(rate_baud: f64, at: SocketAddr) -> PaperPlan {
    let machine = Machine {
        rate_baud,
        figures: FiguresRow::Ita2,
        motor: false,
        ..Machine::default()
    };
    PaperPlan {
        name: "shack".into(),
        setup: Setup {
            way: Some(format!("codes:{at}").parse().expect("a way")),
            ..Setup::of(machine)
        },
        record: None,
        sent: false,
    }
}

fn listening() -> Live {
    start(
        played([Play::Sound(sound_of(TEXT, 8000))]),
        &Recorder::default(),
    )
}

/// Where states are told, and where they are seen.
fn states() -> (Tell, watch::Receiver<PaperState>) {
    let (sender, states) = watch::channel(PaperState::default());
    let tell = move |state: &PaperState| drop(sender.send_replace(state.clone()));
    (Arc::new(tell), states)
}

/// Waits for a state.
fn until(
    states: &mut watch::Receiver<PaperState>,
    such: impl Fn(&PaperState) -> bool,
) -> PaperState {
    while !such(&states.borrow_and_update()) {
        while !states.has_changed().expect("the test holds the sender") {
            std::thread::yield_now();
        }
    }
    states.borrow().clone()
}

/// What codes print, line ends as spaces.
fn text(bytes: &[u8]) -> String {
    let codes: Vec<Code> = bytes
        .iter()
        .map(|b| Code::new(*b).expect("five bits"))
        .collect();
    let text = decode(&codes, FiguresRow::Ita2, false);
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_copy_goes_to_paper_and_is_kept() {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let folder = tempfile::tempdir().expect("a folder");
    let plan = PaperPlan {
        record: Some(folder.path().join("paper")),
        ..plan(300.0, listener.local_addr().expect("bound"))
    };
    let (tell, mut states) = states();
    let live = listening();
    let paper = Paper::start(live.board(), plan, tell).expect("a way");
    let (mut machine, _) = listener.accept().expect("it connects");
    wait_for_end(&live);
    // Every character is decided, and the last word has been let go.
    let all = until(&mut states, |s| {
        s.sent > TEXT.len() as u64 && s.waiting == 0
    });
    assert_eq!((all.machine.as_deref(), all.error), (Some("shack"), None));
    std::thread::sleep(std::time::Duration::from_secs_f64(
        Machine::default().word_hold_s,
    ));
    until(&mut states, |s| s.waiting == 0);
    paper.stop();
    let mut bytes = Vec::new();
    machine.read_to_end(&mut bytes).expect("to its end");
    live.stop();
    assert_eq!(text(&bytes), printed(&live.board().snapshot().sheet));
    let kept = std::fs::read_dir(folder.path().join("paper"))
        .expect("a folder")
        .count();
    assert!(kept >= 1 && !states.borrow().runs);
}

#[test]
fn a_machine_that_is_not_there_is_told_and_copying_goes_on() {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let at = listener.local_addr().expect("bound");
    drop(listener);
    let (tell, mut states) = states();
    let live = listening();
    let paper = Paper::start(live.board(), plan(300.0, at), tell).expect("a way");
    let lost = until(&mut states, |s| s.error.is_some());
    assert!(lost.runs && !lost.open, "{lost:?}");
    let error = lost.error.expect("as waited for");
    assert!(error.contains("start the interface's program"), "{error}");
    wait_for_end(&live);
    let waits = until(&mut states, |s| s.waiting > 30);
    assert_eq!(waits.sent, 0);
    // Now it is there: nothing of what waited is lost.
    let listener = TcpListener::bind(at).expect("the same port");
    let (mut machine, _) = listener.accept().expect("it is tried again");
    until(&mut states, |s| {
        s.open && s.error.is_none() && s.waiting == 0
    });
    paper.stop();
    let mut bytes = Vec::new();
    machine.read_to_end(&mut bytes).expect("to its end");
    live.stop();
    assert!(
        text(&bytes).starts_with("RYRYRY DE Q1ABC GOOD EVENING"),
        "{}",
        text(&bytes)
    );
}

#[test]
fn a_slow_machine_does_not_hold_up_the_copy_and_can_be_stopped() {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let (tell, mut states) = states();
    let live = listening();
    let at = listener.local_addr().expect("bound");
    // 0.75 s a character: forty seconds for all.
    let paper = Paper::start(live.board(), plan(10.0, at), tell).expect("a way");
    let (mut machine, _) = listener.accept().expect("it connects");
    wait_for_end(&live);
    let waits = until(&mut states, |s| s.waiting > 30 && s.sent > 0);
    assert!(waits.waiting_s > 20.0 && waits.open, "{waits:?}");
    paper.stop();
    let stopped = states.borrow().clone();
    assert!(
        !stopped.runs && stopped.dropped > 20 && stopped.waiting == 0,
        "{stopped:?}"
    );
    let mut bytes = Vec::new();
    machine.read_to_end(&mut bytes).expect("to its end");
    assert!(bytes.len() < 20, "{}", bytes.len());
    live.stop();
    assert!(printed(&live.board().snapshot().sheet).contains("HARBOUR CLUB"));
}

#[test]
fn without_a_way_there_is_nothing_to_start() {
    let live = listening();
    let nowhere = PaperPlan {
        setup: Setup::of(Machine::default()),
        ..plan(50.0, SocketAddr::from(([127, 0, 0, 1], 9)))
    };
    let (tell, _states) = states();
    let error = Paper::start(live.board(), nowhere, tell)
        .err()
        .expect("no way");
    assert!(error.contains("no way to shack"), "{error}");
    live.stop();
}
