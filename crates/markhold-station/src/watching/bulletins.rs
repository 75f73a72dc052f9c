//! Bulletins on paper: what was kept of a sked is printed once its run is over.
//!
//! It is printed from the shelf, whole, and not along with what comes: so two skeds at once stand
//! one after the other, and a run that a restart broke into parts is one. Each machine has a
//! thread of its own; a paper that is busy or away is waited for, told, and holds up nothing.

use super::bulletin::{Shared, printed};
use crate::machines::Machines;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::{PrintState, Shelf, ShelfError, SkedPrint};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;
use std::sync::{Arc, PoisonError};
use std::thread::JoinHandle;

/// A bulletin whose paper was not to be had for so long after it was due is given up: it is on
/// the shelf, and nobody wants yesterday's on paper.
const GIVEN_UP: SignedDuration = SignedDuration::from_hours(12);
/// Prints bulletins.
pub(super) struct Bulletins {
    // Configured.
    place: PathBuf,
    machines: Arc<dyn Machines>,
    // State.
    /// What is being printed, by the machine's name.
    at_work: BTreeMap<String, AtWork>,
}

/// One that is being printed.
struct AtWork {
    /// As the shelf has it.
    print: SkedPrint,
    shared: Arc<Shared>,
    thread: JoinHandle<()>,
}

impl Bulletins {
    pub(super) fn new(place: &Path, machines: Arc<dyn Machines>) -> Self {
        Bulletins {
            place: place.to_path_buf(),
            machines,
            at_work: BTreeMap::new(),
        }
    }

    /// Goes on with what waits; what changed goes to the shelf and is told.
    pub(super) fn look(
        &mut self,
        shelf: &mut Shelf,
        now: Timestamp,
        tell: &mut dyn FnMut(&str),
    ) -> Result<(), ShelfError> {
        self.end_those_that_are_done(shelf, tell)?;
        for mut print in shelf.waiting_prints()? {
            if self.at_work.contains_key(&print.machine) {
                continue;
            }
            if now.duration_since(print.begins) > GIVEN_UP {
                let why = std::mem::take(&mut print.why);
                print.why = format!("the paper was not to be had for half a day{}", behind(&why));
                print.state = PrintState::GivenUp;
                keep(shelf, &print, tell)?;
                continue;
            }
            self.begin(shelf, print, tell)?;
        }
        Ok(())
    }

    fn begin(
        &mut self,
        shelf: &mut Shelf,
        mut print: SkedPrint,
        tell: &mut dyn FnMut(&str),
    ) -> Result<(), ShelfError> {
        let run = shelf.runs(print.begins)?;
        let run = run
            .into_iter()
            .find(|run| run.sked == print.sked && run.begins == print.begins);
        let Some(run) = run else {
            print.state = PrintState::GivenUp;
            print.why = "what was kept of it is no longer there".into();
            return keep(shelf, &print, tell);
        };
        let shared = Arc::new(Shared::default());
        let (theirs, place, machines) = (shared.clone(), self.place.clone(), self.machines.clone());
        let machine = print.machine.clone();
        let work = move || {
            let end = printed(&theirs, (&place, &run), (&*machines, &machine));
            *theirs.end.lock().unwrap_or_else(PoisonError::into_inner) = Some(end);
        };
        let thread = std::thread::Builder::new().name("bulletin".into());
        // Without a thread it is tried again at the next look.
        if let Ok(thread) = thread.spawn(work) {
            let machine = print.machine.clone();
            let print = AtWork {
                print,
                shared,
                thread,
            };
            self.at_work.insert(machine, print);
        }
        Ok(())
    }

    fn end_those_that_are_done(
        &mut self,
        shelf: &mut Shelf,
        tell: &mut dyn FnMut(&str),
    ) -> Result<(), ShelfError> {
        for at_work in self.at_work.values_mut() {
            let end = at_work.shared.end.lock();
            let end = end.unwrap_or_else(PoisonError::into_inner).clone();
            let (state, why) = match end {
                Some(Ok(())) => (PrintState::Printed, String::new()),
                Some(Err(why)) => (PrintState::GivenUp, why),
                None if at_work.thread.is_finished() => {
                    (PrintState::GivenUp, "printing broke off".into())
                }
                None => (PrintState::Waiting, at_work.shared.why()),
            };
            if (state, &why) != (at_work.print.state, &at_work.print.why) {
                let print = SkedPrint {
                    state,
                    why,
                    ..at_work.print.clone()
                };
                keep(shelf, &print, tell)?;
                at_work.print = print;
            }
        }
        self.at_work
            .retain(|_, at_work| at_work.print.state == PrintState::Waiting);
        Ok(())
    }

    /// Stops within a character, the line in mark. What was not printed to its end is printed
    /// anew, from its beginning, when somebody looks again.
    pub(super) fn stop(&mut self) {
        let at_work = std::mem::take(&mut self.at_work);
        for at_work in at_work.values() {
            at_work.shared.stop.store(true, Ordering::SeqCst);
        }
        for at_work in at_work.into_values() {
            // One that died has said so by itself.
            let _ = at_work.thread.join();
        }
    }
}

impl Drop for Bulletins {
    fn drop(&mut self) {
        self.stop();
    }
}

fn keep(
    shelf: &mut Shelf,
    print: &SkedPrint,
    tell: &mut dyn FnMut(&str),
) -> Result<(), ShelfError> {
    shelf.keep_print(print)?;
    let due = print.begins.strftime("%Y-%m-%d %H:%M UTC");
    tell(&format!("sked {} of {due}: {}", print.sked, print.words()));
    Ok(())
}

fn behind(why: &str) -> String {
    match why.is_empty() {
        true => String::new(),
        false => format!(": {why}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machines::Listing;
    use crate::paper::testing::{character, signal};
    use markhold_code::{Code, FiguresRow, decode};
    use markhold_event::Event;
    use markhold_page::Machine;
    use markhold_shelf::{KeepSettings, Keeper};
    use markhold_skeds::watch::{Held, Run, RunState};
    use markhold_wire::play::Setup;
    use std::time::{Duration, Instant};

    const TEXTS: [&str; 2] = ["LOW MARSH BULLETIN", "TIDE TABLE FOLLOWS"];

    /// One machine, whose way may be anything.
    struct One(String);

    impl Machines for One {
        fn list(&self) -> Listing {
            Listing::default()
        }

        fn setup(&self, name: &str, _: Option<&str>) -> Result<Setup, String> {
            if name != "shack" {
                return Err(format!("no machine is called \"{name}\" here"));
            }
            // A fast one, so that a test takes no evening.
            let machine = Machine {
                rate_baud: 300.0,
                figures: FiguresRow::Ita2,
                motor: false,
                ..Machine::default()
            };
            Ok(Setup {
                way: Some(self.0.parse().expect("a way")),
                ..Setup::of(machine)
            })
        }
    }

    fn at(s: i64) -> Timestamp {
        Timestamp::from_second(1_793_577_600 + s).unwrap()
    }

    /// A shelf with an evening in which two bulletins are at once, and the runs that they belong to.
    fn kept(place: &Path) -> Shelf {
        let evening = markhold_shelf::Evening {
            begin: at(0).to_zoned_datetime(jiff::tz::TimeZone::UTC),
            input: "made up".into(),
            rate: 8000,
            settings: serde_json::json!({}),
        };
        let keeper = Keeper::begin(place, evening, KeepSettings::default()).unwrap();
        keeper.sound(&[0.01; 16_000]);
        for (signal_id, text) in (1..).zip(TEXTS) {
            keeper.event(&Event::Found(signal(signal_id)));
            let characters = (0..).zip(text.chars());
            characters.for_each(|(k, c)| {
                let start_s = 4.0 + 0.165 * f64::from(k) + 0.05 * f64::from(signal_id);
                keeper.event(&Event::Character(character(signal_id, start_s, c)));
            });
        }
        (1..=2).for_each(|id| keeper.event(&Event::Ended(signal(id))));
        keeper.finish().unwrap();
        let mut shelf = Shelf::open(place).unwrap();
        for sked in 1..=2 {
            shelf.keep_run(&run(sked)).unwrap();
        }
        shelf
    }

    fn run(sked: i64) -> Run {
        Run {
            sked,
            title: format!("News {sked}"),
            begins: at(0),
            ends: at(600),
            held: Held::default(),
            state: RunState::Kept,
            cause: String::new(),
            kept_in: vec![(1, vec![sked as u32])],
            last_heard: None,
            heard_for: SignedDuration::ZERO,
        }
    }

    fn waiting(sked: i64, machine: &str) -> SkedPrint {
        SkedPrint {
            sked,
            begins: at(0),
            machine: machine.into(),
            state: PrintState::Waiting,
            why: String::new(),
        }
    }

    /// Looks until all stand so; gives how they do and what was told.
    fn looked(
        (bulletins, shelf): (&mut Bulletins, &mut Shelf),
        rests: impl Fn(&SkedPrint) -> bool,
    ) -> (Vec<SkedPrint>, Vec<String>) {
        let (begun, mut told) = (Instant::now(), Vec::new());
        loop {
            let tell = &mut |words: &str| told.push(words.to_string());
            bulletins.look(shelf, at(1200), tell).unwrap();
            let all: Vec<_> = (1..=2)
                .filter_map(|sked| shelf.print_of(sked, at(0)).unwrap())
                .collect();
            if all.iter().all(&rests) {
                return (all, told);
            }
            assert!(begun.elapsed() < Duration::from_secs(60), "{all:?}");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    fn is_done(print: &SkedPrint) -> bool {
        print.state != PrintState::Waiting
    }

    fn text(codes: &[u8]) -> String {
        let codes: Vec<Code> = codes.iter().filter_map(|b| Code::new(*b)).collect();
        decode(&codes, FiguresRow::Ita2, false).replace('\r', "")
    }

    #[test]
    fn two_at_once_stand_one_after_the_other_each_under_its_name() {
        let folder = tempfile::tempdir().unwrap();
        let mut shelf = kept(&folder.path().join("shelf"));
        let paper = folder.path().join("paper");
        for sked in 1..=2 {
            shelf.keep_print(&waiting(sked, "shack")).unwrap();
        }
        let machines = Arc::new(One(format!("codes:{}", paper.display())));
        let mut bulletins = Bulletins::new(shelf.place(), machines);
        let (all, told) = looked((&mut bulletins, &mut shelf), is_done);
        assert!(
            all.iter().all(|p| p.state == PrintState::Printed),
            "{all:?}"
        );
        assert!(
            told.iter().any(|w| w.contains("printed on shack")),
            "{told:?}"
        );
        let page = text(&std::fs::read(&paper).unwrap());
        for (sked, sent) in (1..).zip(TEXTS) {
            let heading = format!("NEWS {sked} 02 NOV 2026 0000 UTC");
            let place = page.find(&heading).unwrap_or_else(|| panic!("{page:?}"));
            let rest = &page[place + heading.len()..];
            assert!(rest.trim_start().starts_with(sent), "{page:?}");
        }
        // Once is enough.
        let (_, told) = looked((&mut bulletins, &mut shelf), is_done);
        assert!(told.is_empty());
    }

    #[test]
    fn a_paper_that_is_away_is_told_and_waited_for() {
        let folder = tempfile::tempdir().unwrap();
        let mut shelf = kept(&folder.path().join("shelf"));
        shelf.keep_print(&waiting(1, "shack")).unwrap();
        shelf.keep_print(&waiting(2, "attic")).unwrap();
        // Nobody listens there yet.
        let free = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
        let address = free.local_addr().unwrap();
        drop(free);
        let machines: Arc<One> = Arc::new(One(format!("codes:{address}")));
        let mut bulletins = Bulletins::new(shelf.place(), machines.clone());
        let begun = Instant::now();
        let rests = |p: &SkedPrint| is_done(p) || !p.why.is_empty();
        let (all, told) = looked((&mut bulletins, &mut shelf), rests);
        assert_eq!(all[0].state, PrintState::Waiting);
        assert!(all[0].words().starts_with("waits for shack: "), "{all:?}");
        assert_eq!(all[1].state, PrintState::GivenUp);
        assert!(told.iter().any(|w| w.contains("attic")), "{told:?}");
        // A restart forgets nothing, and is not held up by it.
        bulletins.stop();
        assert!(begun.elapsed() < Duration::from_secs(20));
        let machine = std::net::TcpListener::bind(address).unwrap();
        let read = std::thread::spawn(move || {
            let mut codes = Vec::new();
            let (mut stream, _) = machine.accept().unwrap();
            std::io::Read::read_to_end(&mut stream, &mut codes).unwrap();
            codes
        });
        let mut again = Bulletins::new(shelf.place(), machines);
        let (all, _) = looked((&mut again, &mut shelf), is_done);
        assert_eq!(all[0].state, PrintState::Printed, "{all:?}");
        assert!(text(&read.join().unwrap()).contains(TEXTS[0]));
    }

    #[test]
    fn nobody_wants_yesterdays_bulletin_on_paper() {
        let folder = tempfile::tempdir().unwrap();
        let mut shelf = kept(&folder.path().join("shelf"));
        shelf.keep_print(&waiting(1, "shack")).unwrap();
        let mut bulletins = Bulletins::new(shelf.place(), Arc::new(One("codes:/nowhere/x".into())));
        let mut told = Vec::new();
        bulletins
            .look(&mut shelf, at(13 * 3600), &mut |words| {
                told.push(words.to_string())
            })
            .unwrap();
        let print = shelf.print_of(1, at(0)).unwrap().unwrap();
        assert_eq!(print.state, PrintState::GivenUp);
        assert!(told[0].contains("half a day"), "{told:?}");
    }
}
