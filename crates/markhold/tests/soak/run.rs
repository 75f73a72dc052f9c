//! The soak itself: starts the program, makes faults, and at the end has all judged.

use super::account::{Account, Course};
use super::evening::{Evening, RATE};
use super::fault::{Fault, Machine, SmallDisk, flood, lock, page};
use super::judge::Verdict;
use super::listener::Life;
use super::lives::{Ended, Running};
use super::random::Random;
use super::states::{self, Asked, RIGHT_AGAIN};
use crate::late::Late;
use markhold_shelf::{KeptEvening, Shelf};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// Room on the disk of the shelf: a day of sound and its copy, kB.
const DISK_KB: u64 = 3 << 20;

/// Clients of a flood.
const CLIENTS: usize = 400;

/// How long the last start may take to copy again what the kills cost.
const MENDING: Duration = Duration::from_secs(900);

/// How long the owner waits for the page, be the computer as busy as it may.
const PAGE: Duration = Duration::from_secs(30);

/// What is to be done.
#[derive(Clone, Copy, Debug)]
pub struct Plan {
    /// Sound in all, s.
    pub sound_s: f64,
    /// Times real time.
    pub speed: f64,
    pub seed: u64,
    /// Mean time between two faults, s of sound.
    pub every_s: f64,
    /// No start anew between these, s of sound: memory is looked at meanwhile.
    pub one_life: (f64, f64),
    /// It ends after so long, whatever was reached.
    pub most: Duration,
    /// Senders of the evening, which then begins anew.
    pub turns: usize,
    /// Sizes are looked at once a program is so old, h of sound.
    pub settled_h: f64,
}

/// Makes a soak and prints what it found. What is wrong comes back.
pub fn soak(plan: &Plan) -> Vec<String> {
    let folder = tempfile::tempdir().expect("a folder");
    let mut soak = Soak::new(*plan, folder.path());
    soak.run();
    soak.finish()
}

/// A fault that lasts, and how it ends.
enum Lasting {
    FullDisk,
    Locked { _archive: rusqlite::Connection },
    Flood { _clients: Vec<TcpStream> },
    Machine,
}

/// A fault that lasts: since when and until when, and where the sound stood when it began, s.
struct Lasts {
    fault: Fault,
    begun: Instant,
    until: Instant,
    from_s: f64,
    what: Lasting,
}

struct Soak {
    // Configured.
    plan: Plan,
    folder: PathBuf,
    evening: Evening,
    disk: Option<SmallDisk>,
    machine: Machine,
    late: Late,
    // State.
    random: Random,
    running: Option<Running>,
    lives: Vec<Ended>,
    lasting: Vec<Lasts>,
    asked: Vec<Asked>,
    account: Account,
    clock_s: f64,
    /// Sound of the lives that ended, s.
    before_s: f64,
    /// When the next fault comes, and when sizes are looked at next, s of sound.
    next_s: f64,
    look_s: f64,
    begun: Instant,
}

impl Soak {
    fn new(plan: Plan, folder: &Path) -> Self {
        let evening = Evening::new(plan.turns, plan.seed);
        evening.save(&folder.join("sound"));
        std::fs::create_dir(folder.join("shelf")).expect("made");
        let mut soak = Soak {
            disk: SmallDisk::new(&folder.join("shelf"), DISK_KB),
            plan,
            folder: folder.into(),
            evening,
            machine: Machine::new(),
            late: Late::new(),
            random: Random(plan.seed),
            running: None,
            lives: Vec::new(),
            lasting: Vec::new(),
            asked: Vec::new(),
            account: Account::default(),
            clock_s: 0.0,
            before_s: 0.0,
            next_s: plan.every_s,
            look_s: 60.0,
            begun: Instant::now(),
        };
        soak.start(0);
        soak
    }

    fn shelf(&self) -> PathBuf {
        self.folder.join("shelf")
    }

    fn start(&mut self, from: u64) {
        let life = Life {
            shelf: self.shelf(),
            sound: self.folder.join("sound"),
            handed: self.folder.join("handed"),
            from,
            speed: self.plan.speed,
            clock_s: self.clock_s,
            machine: self.machine.port,
        };
        self.running = Some(Running::start(life, &self.folder.join("log")));
    }

    fn running(&mut self) -> &mut Running {
        self.running.as_mut().expect("it runs")
    }

    /// Sound so far, s.
    fn sound_s(&self) -> f64 {
        let now_s = self.running.as_ref().map_or(0.0, Running::heard_s);
        self.before_s + now_s
    }

    fn run(&mut self) {
        while self.sound_s() < self.plan.sound_s && self.begun.elapsed() < self.plan.most {
            std::thread::sleep(Duration::from_millis(10));
            if self.running().died() {
                let wrong = format!("it died at {:.0} s", self.sound_s());
                self.account.wrong.push(wrong);
                self.start_anew(true);
            }
            self.end_faults(Instant::now());
            if self.sound_s() >= self.look_s {
                self.look_s = self.sound_s() + 60.0;
                self.look();
            }
            if self.sound_s() >= self.next_s {
                let pause_s = self.plan.every_s * self.random.between(0.5, 1.5);
                self.next_s = self.sound_s() + pause_s;
                self.fault();
            }
        }
    }

    /// Sizes, and whether the owner is let in.
    fn look(&mut self) {
        let flooded = self.lasts(Fault::Flood);
        let port = self.running().port;
        let at_s = self.sound_s();
        self.account.page(page(port, PAGE), flooded, at_s);
        let (life, heard_s) = (self.lives.len(), self.running().heard_s());
        if let Some(size) = self.running().size().filter(|_| !flooded) {
            self.account.sizes.add(life, heard_s, size);
        }
        let (at_s, minutes) = (self.sound_s(), self.begun.elapsed().as_secs() / 60);
        if ((at_s / 60.0) as u64).is_multiple_of(60) {
            eprintln!(
                "{minutes} min, {:.1} h of sound, {life} lives",
                at_s / 3600.0
            );
        }
    }

    fn lasts(&self, fault: Fault) -> bool {
        self.lasting.iter().any(|lasts| lasts.fault == fault)
    }

    /// Draws one that can be now, and makes it.
    fn fault(&mut self) {
        let at_s = self.sound_s();
        let one_life = (self.plan.one_life.0..self.plan.one_life.1).contains(&at_s);
        let can = |fault: &Fault| {
            !(self.lasts(*fault)
                || fault.ends() && one_life
                || *fault == Fault::FullDisk && self.disk.is_none())
        };
        let all: Vec<Fault> = Fault::ALL.into_iter().filter(can).collect();
        let mut drawn = self.random.below(all.iter().map(|f| f.weight()).sum());
        let fault = all.into_iter().find(|fault| {
            let is = drawn < fault.weight();
            drawn = drawn.wrapping_sub(fault.weight());
            is
        });
        if let Some(fault) = fault
            && self.make(fault)
        {
            *self.account.made.entry(fault).or_default() += 1;
        }
    }

    /// Whether it could be made.
    fn make(&mut self, fault: Fault) -> bool {
        let random = &mut self.random;
        match fault {
            Fault::Device => {
                let order = format!("gone {}", random.between(0.2, 60.0));
                self.running().order(&order);
            }
            Fault::Lost => {
                let order = format!("lost {}", random.between(0.001, 8.0));
                self.running().order(&order);
            }
            Fault::Input => self.running().order("input"),
            Fault::Clock => {
                // Milliseconds: so exact is what an evening knows of its begin.
                let by_s = (random.between(-400.0, 400.0) * 86_400e3).round() / 1e3;
                self.clock_s += by_s;
                self.running().order(&format!("clock {by_s}"));
            }
            Fault::FullDisk => {
                let lasts_s = random.between(0.3, 6.0);
                if !self.disk.as_ref().is_some_and(SmallDisk::fill) {
                    return false;
                }
                self.lasting(fault, lasts_s, Lasting::FullDisk);
            }
            Fault::Locked => {
                let lasts_s = random.between(0.2, 8.0);
                let Some(archive) = lock(&self.folder.join("shelf")) else {
                    return false;
                };
                self.lasting(fault, lasts_s, Lasting::Locked { _archive: archive });
            }
            Fault::Flood => {
                let lasts_s = random.between(0.5, 5.0);
                let clients = flood(self.running().port, CLIENTS);
                self.lasting(fault, lasts_s, Lasting::Flood { _clients: clients });
            }
            Fault::Machine => {
                let lasts_s = random.between(0.3, 5.0);
                self.machine.plug(false);
                self.lasting(fault, lasts_s, Lasting::Machine);
            }
            Fault::Killed => self.start_anew(true),
            Fault::Ended => self.start_anew(false),
        }
        true
    }

    fn lasting(&mut self, fault: Fault, lasts_s: f64, lasting: Lasting) {
        let begun = Instant::now();
        let until = begun + Duration::from_secs_f64(lasts_s);
        let from_s = self.sound_s();
        self.lasting.push(Lasts {
            fault,
            begun,
            until,
            from_s,
            what: lasting,
        });
    }

    /// Ends what has lasted long enough.
    fn end_faults(&mut self, now: Instant) {
        let (over, on): (Vec<Lasts>, Vec<Lasts>) = std::mem::take(&mut self.lasting)
            .into_iter()
            .partition(|lasts| lasts.until <= now);
        self.lasting = on;
        for Lasts {
            fault,
            begun,
            from_s,
            what,
            ..
        } in over
        {
            match what {
                Lasting::FullDisk => self.disk.iter().for_each(SmallDisk::empty),
                Lasting::Machine => self.machine.plug(true),
                Lasting::Locked { .. } | Lasting::Flood { .. } => {}
            }
            self.asked.push(Asked {
                fault,
                begun,
                ended: Instant::now(),
                sound_s: self.sound_s() - from_s,
                late: self.late.since(begun),
            });
        }
    }

    /// The sound goes on while the program is started again.
    fn start_anew(&mut self, killed: bool) {
        let Some(running) = self.running.take() else {
            return;
        };
        let ended = match killed {
            true => running.kill(),
            false => {
                let (ended, took) = running.end();
                self.account.ended(took);
                ended
            }
        };
        let pause = (self.random.between(0.5, 20.0) * f64::from(RATE)) as u64;
        let from = ended.life.from + ended.handed + pause;
        self.before_s += ended.handed as f64 / f64::from(RATE);
        self.lives.push(ended);
        self.start(from);
    }

    /// How the evening is kept, as it was told last.
    fn state(&mut self) -> String {
        let told = self.running().told();
        let lines = told.into_iter().rev().map(|(_, line)| line);
        let mut states = lines.filter(|line| line.starts_with("well") || line.starts_with("ill"));
        states.next().unwrap_or_default()
    }

    /// No more faults; what the kills cost is copied again, and all is judged.
    fn finish(mut self) -> Vec<String> {
        self.end_faults(Instant::now() + Duration::from_secs(3600));
        let (wall, sound_s) = (self.begun.elapsed(), self.sound_s());
        // The last start listens in real time, and so leaves nothing uncopied itself.
        self.plan.speed = 1.0;
        self.start_anew(false);
        let begun = Instant::now();
        while due(&self.shelf()) > 0 && begun.elapsed() < MENDING {
            std::thread::sleep(Duration::from_millis(200));
        }
        let mended = begun.elapsed();
        let begun = Instant::now();
        let mut state = self.state();
        while !state.starts_with("well") && begun.elapsed() < RIGHT_AGAIN {
            std::thread::sleep(Duration::from_millis(50));
            state = self.state();
        }
        if !state.starts_with("well") {
            let wrong = format!("its state at the end: {state:?}");
            self.account.wrong.push(wrong);
        }
        let codes = self.machine.codes();
        let running = self.running.take().expect("it runs");
        let (ended, took) = running.end();
        self.account.ended(took);
        self.lives.push(ended);
        let shelf = Shelf::open(&self.shelf()).expect("a shelf");
        let mut verdict = Verdict::of(&shelf, &self.evening, &self.lives);
        self.account.wrong.append(&mut verdict.wrong);
        let log = std::fs::read_to_string(self.folder.join("log")).unwrap_or_default();
        let panics = log.lines().filter(|line| line.contains("panicked at"));
        self.account.wrong.extend(panics.map(str::to_string));
        let states = self.states();
        self.account.print(&Course {
            plan: self.plan,
            wall,
            sound_s,
            mended,
            codes,
            starts: self.lives.len(),
            disk: self.disk.is_some(),
            states,
            verdict,
        });
        self.account.wrong
    }

    /// How soon a fault was told, and how soon it was told to be over.
    fn states(&mut self) -> Vec<String> {
        let mut words = Vec::new();
        let lives = self.lives.iter();
        let told: Vec<&(Instant, String)> = lives.flat_map(|life| &life.told).collect();
        for (fault, word, patience_s) in [
            (Fault::FullDisk, "full", 1.5),
            (Fault::Locked, "locked by another", 5.0),
        ] {
            let found = states::look(&self.asked, &told, fault, (word, patience_s));
            words.push(found.words(fault, patience_s));
            self.account.wrong.extend(found.wrong);
        }
        words
    }
}

/// Evenings of which something is still to be copied again.
fn due(shelf: &Path) -> usize {
    let Ok(shelf) = Shelf::open(shelf) else {
        return 0;
    };
    let evenings = shelf.evenings(None, None, usize::MAX).unwrap_or_default();
    let whole = |evening: &KeptEvening| {
        let best = evening.best_reading();
        let whole = best.is_none_or(|best| !best.live || best.heard_s - best.copied_s <= 0.5);
        evening.end.is_none() || whole
    };
    evenings.iter().filter(|evening| !whole(evening)).count()
}
