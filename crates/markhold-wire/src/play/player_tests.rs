//! The player on a keyer that only keeps what it is told.

use super::{News, PaperRecord, Patience, Player};
use crate::{Keyer, KeyerError};
use jiff::Timestamp;
use markhold_code::Code;
use markhold_page::Machine;
use markhold_page::{Order, Ordered};
use std::sync::{Arc, Mutex, mpsc};
use std::thread;
use std::time::Duration;

/// What a keyer was told.
#[derive(Clone, Debug, PartialEq)]
enum Told {
    Open,
    Send(u8),
    Hold(f64),
    Motor(bool),
    Finish,
    Cancel,
}

/// What the keyers of one test share.
#[derive(Default)]
struct Bench {
    told: Mutex<Vec<Told>>,
    /// Calls of send that fail, counted from 0; and openings, counted from 0.
    failing_sends: Vec<usize>,
    failing_opens: Vec<usize>,
    counts: Mutex<(usize, usize)>,
    /// Each send waits for one of these, where there is a sender.
    go: Option<Mutex<mpsc::Receiver<()>>>,
    /// Says that a send has begun.
    begun: Option<Mutex<mpsc::Sender<()>>>,
}

struct FakeKeyer(Arc<Bench>);

fn pulled_out() -> KeyerError {
    KeyerError::PulledOut {
        what: "the port".into(),
    }
}

impl FakeKeyer {
    fn open(bench: &Arc<Bench>) -> Result<FakeKeyer, KeyerError> {
        let mut counts = bench.counts.lock().unwrap();
        counts.1 += 1;
        if bench.failing_opens.contains(&(counts.1 - 1)) {
            return Err(pulled_out());
        }
        bench.told.lock().unwrap().push(Told::Open);
        Ok(FakeKeyer(Arc::clone(bench)))
    }

    fn tell(&self, told: Told) -> Result<(), KeyerError> {
        self.0.told.lock().unwrap().push(told);
        Ok(())
    }
}

impl Keyer for FakeKeyer {
    fn send(&mut self, code: Code) -> Result<(), KeyerError> {
        if let Some(begun) = &self.0.begun {
            begun.lock().unwrap().send(()).unwrap();
        }
        if let Some(go) = &self.0.go {
            go.lock().unwrap().recv().unwrap();
        }
        let mut counts = self.0.counts.lock().unwrap();
        counts.0 += 1;
        if self.0.failing_sends.contains(&(counts.0 - 1)) {
            return Err(pulled_out());
        }
        self.tell(Told::Send(code.value()))
    }

    fn hold(&mut self, seconds: f64) -> Result<(), KeyerError> {
        self.tell(Told::Hold(seconds))
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        self.tell(Told::Motor(on))
    }

    fn finish(&mut self) -> Result<(), KeyerError> {
        self.tell(Told::Finish)
    }

    fn cancel(&mut self) -> Result<(), KeyerError> {
        self.tell(Told::Cancel)
    }
}

const PATIENCE: Patience = Patience {
    retry: Duration::from_millis(1),
    run_up_s: 0.1,
};

fn player(bench: &Arc<Bench>) -> Player {
    let bench = Arc::clone(bench);
    Player::start(move || FakeKeyer::open(&bench), None, PATIENCE).unwrap()
}

fn orders(orders: &[Order]) -> Vec<Ordered> {
    let plain = |&order| Ordered {
        order,
        source: None,
    };
    orders.iter().map(plain).collect()
}

fn send(value: u8) -> Order {
    Order::Send(Code::new(value).unwrap())
}

#[test]
fn orders_are_played_in_order() {
    let bench = Arc::new(Bench::default());
    let player = player(&bench);
    player.play(&orders(&[Order::Motor(true), Order::Hold(0.1), send(1)]));
    player.play(&orders(&[send(2), Order::Motor(false)]));
    let (left, news) = player.finish();
    assert!(left.is_empty() && news.is_empty());
    use Told::*;
    let expected = [
        Open,
        Motor(true),
        Hold(0.1),
        Send(1),
        Send(2),
        Motor(false),
        Finish,
    ];
    assert_eq!(*bench.told.lock().unwrap(), expected);
}

/// The way fails in the third character and is away for two attempts: nothing is lost,
/// nothing is sent twice, and the motor is started again.
#[test]
fn an_error_resumes_from_the_character_being_sent() {
    let bench = Arc::new(Bench {
        failing_sends: vec![2],
        failing_opens: vec![1, 2],
        ..Bench::default()
    });
    let player = player(&bench);
    let all = [Order::Motor(true), send(1), send(2), send(3), send(4)];
    player.play(&orders(&all));
    let (left, news) = player.finish();
    assert!(left.is_empty());
    assert!(matches!(news[..], [News::Lost(_), News::Back]), "{news:?}");
    use Told::*;
    let expected = [
        Open,
        Motor(true),
        Send(1),
        Send(2),
        Open,
        Motor(true),
        Hold(0.1),
        Send(3),
        Send(4),
        Finish,
    ];
    assert_eq!(*bench.told.lock().unwrap(), expected);
}

#[test]
fn what_nothing_mends_ends_the_player_and_gives_back_what_is_left() {
    let bench = Arc::new(Bench::default());
    let player = player(&bench);
    player.play(&orders(&[send(1), Order::Hold(0.1), send(2)]));
    player.finish();
    let bad = |_: &Arc<Bench>| -> Result<FakeKeyer, KeyerError> {
        Err(KeyerError::Setting {
            what: "the speed",
            found: "0 baud".into(),
            expected: "more".into(),
        })
    };
    let mut first = true;
    let failing = Arc::new(Bench {
        failing_sends: vec![1],
        ..Bench::default()
    });
    let open = move || match std::mem::replace(&mut first, false) {
        true => FakeKeyer::open(&failing),
        false => bad(&failing),
    };
    let player = Player::start(open, None, PATIENCE).unwrap();
    player.play(&orders(&[send(1), send(2), send(3)]));
    let (left, news) = player.finish();
    assert_eq!(left, orders(&[send(2), send(3)]));
    assert!(
        matches!(news[..], [News::Lost(_), News::Ended(_)]),
        "{news:?}"
    );
}

/// The keyer is within a character when the player is cancelled: that character is the
/// last one, the line goes to mark, and the player can be used again.
#[test]
fn cancelling_stops_within_a_character() {
    let (go, wait) = mpsc::channel();
    let (begun, has_begun) = mpsc::channel();
    let bench = Arc::new(Bench {
        go: Some(Mutex::new(wait)),
        begun: Some(Mutex::new(begun)),
        ..Bench::default()
    });
    let player = player(&bench);
    player.play(&orders(&[send(1), send(2), send(3)]));
    has_begun.recv().unwrap();
    thread::scope(|scope| {
        let cancelled = scope.spawn(|| player.cancel());
        while player.waiting() > 0 {
            thread::yield_now();
        }
        go.send(()).unwrap();
        assert_eq!(cancelled.join().unwrap(), 3);
    });
    assert_eq!(
        *bench.told.lock().unwrap(),
        [Told::Open, Told::Send(1), Told::Cancel]
    );
    player.play(&orders(&[send(4)]));
    go.send(()).unwrap();
    player.finish();
    assert_eq!(
        bench.told.lock().unwrap()[3..],
        [Told::Send(4), Told::Finish]
    );
}

/// Whoever goes on giving orders after that gives them in vain.
#[test]
fn stopped_for_good_only_the_last_orders_are_played() {
    let bench = Arc::new(Bench::default());
    let player = player(&bench);
    player.play(&orders(&[Order::Hold(1e9)]));
    while bench.told.lock().unwrap().len() < 2 {
        thread::yield_now();
    }
    assert_eq!(player.stop(&orders(&[Order::Motor(false)])), 1);
    player.play(&orders(&[send(1)]));
    player.finish();
    let told = bench.told.lock().unwrap();
    let end = &told[told.len() - 3..];
    assert_eq!(end, [Told::Cancel, Told::Motor(false), Told::Finish]);
    assert!(!told.contains(&Told::Send(1)));
}

/// A way that is away may stay away: stopping does not wait for it.
#[test]
fn stopped_while_the_way_is_away_it_ends() {
    let bench = Arc::new(Bench {
        failing_opens: (1..1_000_000).collect(),
        failing_sends: vec![0],
        ..Bench::default()
    });
    let player = player(&bench);
    player.play(&orders(&[send(1), send(2)]));
    while player.news().is_empty() {
        thread::yield_now();
    }
    player.stop(&orders(&[Order::Motor(false)]));
    assert!(player.finish().0.is_empty());
}

#[test]
fn a_hold_is_cut_into_pieces() {
    let bench = Arc::new(Bench::default());
    let player = player(&bench);
    player.play(&orders(&[Order::Hold(0.4)]));
    player.finish();
    let held: Vec<f64> = bench
        .told
        .lock()
        .unwrap()
        .iter()
        .filter_map(|told| match told {
            Told::Hold(seconds) => Some(*seconds),
            _ => None,
        })
        .collect();
    assert_eq!(held.len(), 3);
    assert!((held.iter().sum::<f64>() - 0.4).abs() < 1e-12, "{held:?}");
}

#[test]
fn dropping_a_player_cancels() {
    let bench = Arc::new(Bench {
        failing_opens: (1..1_000_000).collect(),
        failing_sends: vec![0],
        ..Bench::default()
    });
    let player = player(&bench);
    player.play(&orders(&[send(1), send(2)]));
    while player.news().is_empty() {
        thread::yield_now();
    }
    drop(player);
    assert_eq!(*bench.told.lock().unwrap(), [Told::Open]);
}

#[test]
fn what_was_sent_is_recorded_once() {
    let folder = tempfile::tempdir().unwrap();
    let clock = || -> Timestamp { "2026-03-21T19:30:00Z".parse().unwrap() };
    let record = PaperRecord::with_clock(folder.path(), &Machine::default(), clock).unwrap();
    let bench = Arc::new(Bench {
        failing_sends: vec![1],
        ..Bench::default()
    });
    let open = move || FakeKeyer::open(&bench);
    let player = Player::start(open, Some(record), PATIENCE).unwrap();
    player.play(&orders(&[send(3), send(1), Order::Hold(0.1), send(4)]));
    player.finish();
    let text = std::fs::read_to_string(folder.path().join("paper-2026-03-21.jsonl")).unwrap();
    let glyphs: Vec<&str> = text
        .lines()
        .filter_map(|l| l.split("\"glyph\":").nth(1)?.get(..3))
        .collect();
    assert_eq!(glyphs, ["\"A\"", "\"E\"", "\" \""]);
}

/// The first time too: nobody waits for a way that is not there yet, what is given meanwhile
/// is played when it comes, and the same reason is told once.
#[test]
fn a_way_that_comes_later_is_waited_for() {
    let bench = Arc::new(Bench {
        failing_opens: vec![0, 1, 2],
        ..Bench::default()
    });
    let open = {
        let bench = Arc::clone(&bench);
        move || FakeKeyer::open(&bench)
    };
    let player = Player::attend(open, None, PATIENCE);
    player.play(&orders(&[send(1)]));
    let (left, news) = player.finish();
    assert!(left.is_empty());
    assert!(matches!(news[..], [News::Lost(_), News::Back]), "{news:?}");
    use Told::*;
    assert_eq!(*bench.told.lock().unwrap(), [Open, Send(1), Finish]);
}

/// A way may take seconds to open; there is no line to be put to mark meanwhile.
#[test]
fn cancelling_does_not_wait_for_a_way_that_is_away() {
    let (opens, let_open) = mpsc::channel();
    let bench = Arc::new(Bench::default());
    let open = {
        let bench = Arc::clone(&bench);
        move || {
            let_open.recv().expect("the test lets it");
            FakeKeyer::open(&bench)
        }
    };
    let player = Player::attend(open, None, PATIENCE);
    player.play(&orders(&[send(1), send(2)]));
    assert_eq!((player.cancel(), player.codes_waiting()), (2, 0));
    assert!(!player.is_open());
    opens.send(()).unwrap();
    player.play(&orders(&[send(3)]));
    player.finish();
    use Told::*;
    assert_eq!(bench.told.lock().unwrap().last(), Some(&Finish));
    assert!(!bench.told.lock().unwrap().contains(&Send(1)));
}
