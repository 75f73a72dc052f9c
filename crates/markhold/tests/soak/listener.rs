//! The program that is tried, in a process of its own: a station that listens to the invented
//! evening, keeps it, prints it and shows it at a desk. It does what lines on its standard
//! input say, and tells on its standard output what it did.

use super::evening::{Evening, RATE};
use jiff::{SignedDuration, Timestamp};
use markhold_desk::door::Door;
use markhold_desk::serve::{open, serve};
use markhold_desk::{Desk, plain_machine};
use markhold_event::LanguageUse;
use markhold_page::Machine;
use markhold_shelf::{KeepSettings, KeepState};
use markhold_sound::{Source, Taken};
use markhold_station::inputs::{InputChoice, Inputs};
use markhold_station::live::Clocks;
use markhold_station::machines::{Listing, Machines};
use markhold_station::report::InputReport;
use markhold_station::settings::InUse;
use markhold_station::{Delivery, PrintOn, Report, Shelved, Station, StationOptions, Wish};
use markhold_wire::play::Setup;
use serde::{Deserialize, Serialize};
use std::collections::VecDeque;
use std::fs::File;
use std::io::Write;
use std::os::unix::fs::FileExt;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicU64;
use std::sync::atomic::Ordering::SeqCst;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// Names the orders of a life to the process that is to lead it.
pub const LIFE: &str = "MARKHOLD_SOAK_LIFE";

/// Where the world's clock stands when the sound begins.
pub const BEGIN: &str = "2026-03-21T18:00:00Z";

/// Samples of a block: a fiftieth of a second.
const BLOCK: usize = RATE as usize / 50;

/// What one start of the program is told.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Life {
    /// The shelf.
    pub shelf: PathBuf,
    /// The evening's samples.
    pub sound: PathBuf,
    /// Where it writes how many samples it has handed over.
    pub handed: PathBuf,
    /// Place of its first sample.
    pub from: u64,
    /// Times real time.
    pub speed: f64,
    /// By how much the computer's clock is wrong, s.
    pub clock_s: f64,
    /// Where the machine is.
    pub machine: u16,
}

impl Life {
    /// When its evening begins by the computer's clock.
    pub fn begin(&self) -> Timestamp {
        self.time(0)
    }

    fn time(&self, samples: u64) -> Timestamp {
        let passed_s = (self.from + samples) as f64 / f64::from(RATE) + self.clock_s;
        let begin: Timestamp = BEGIN.parse().expect("a time");
        begin + SignedDuration::from_millis((passed_s * 1e3).round() as i64)
    }
}

/// Everything outside the program: the receiver's sound, the cable, the clock.
struct World {
    life: Life,
    evening: Evening,
    /// Samples since its first one, lost ones included.
    position: AtomicU64,
    /// What its clock was put forward by since the start, ms, as a number that wraps.
    clock_ms: AtomicU64,
    orders: Mutex<VecDeque<Order>>,
    handed: File,
}

enum Order {
    /// The device is away for so many samples.
    Gone(u64),
    /// So many are lost.
    Lost(u64),
}

/// Leads a life, if this process is told one.
pub fn live_if_told() -> bool {
    let Ok(life) = std::env::var(LIFE) else {
        return false;
    };
    let life: Life = serde_json::from_str(&life).expect("a life");
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build();
    runtime.expect("threads").block_on(live(life));
    true
}

async fn live(life: Life) {
    let world = Arc::new(World {
        evening: Evening::load(&life.sound),
        position: AtomicU64::new(0),
        clock_ms: AtomicU64::new(0),
        orders: Mutex::default(),
        handed: File::create(&life.handed).expect("made"),
        life,
    });
    let listener = open(0, false).await.expect("a port");
    let port = listener.local_addr().expect("bound").port();
    let station = Station::start(options(&world), "line").expect("it starts");
    let print = PrintOn {
        machine: "shack".into(),
        ..PrintOn::default()
    };
    station.wish(&Wish::Print(print)).expect("it prints");
    tell_states(&station);
    let desk = Desk::new(Door::loopback(), station.clone(), (plain_machine(), None));
    say(&format!("open {port}"));
    let (stop, stopped) = tokio::sync::oneshot::channel();
    let asked = station.clone();
    std::thread::spawn(move || obey(&world, &asked, stop));
    let stopped = async { drop(stopped.await) };
    serve(desk, listener, stopped).await;
    tokio::task::spawn_blocking(move || station.stop())
        .await
        .expect("it stops");
    say("ended");
}

fn options(world: &Arc<World>) -> StationOptions {
    let life = &world.life;
    let clocks = Arc::clone(world);
    StationOptions {
        in_use: InUse {
            language: LanguageUse::Off,
            ..InUse::default()
        },
        shelf: Some(Shelved {
            place: life.shelf.clone(),
            keep: keep(),
            words: life.shelf.display().to_string(),
            practice: false,
        }),
        inputs: Arc::new(Shack(Arc::clone(world))),
        machines: Arc::new(Shack(Arc::clone(world))),
        clocks: Arc::new(move || self::clocks(&clocks)),
        ..StationOptions::default()
    }
}

/// As usual, but for a disk of two gigabytes on which an hour takes a minute or two.
fn keep() -> KeepSettings {
    KeepSettings {
        spare_bytes: 8 << 20,
        retry: Duration::from_millis(500),
        ..KeepSettings::default()
    }
}

/// Time is sound: all clocks go as fast as that.
fn clocks(world: &Arc<World>) -> Clocks {
    let (wall, steady) = (Arc::clone(world), Arc::clone(world));
    Clocks {
        wall: Box::new(move || {
            let set = SignedDuration::from_millis(wall.clock_ms.load(SeqCst) as i64);
            wall.life.time(wall.position.load(SeqCst)) + set
        }),
        steady: Box::new(move || {
            Duration::from_secs_f64(steady.position.load(SeqCst) as f64 / f64::from(RATE))
        }),
    }
}

/// A line for who started this. It may be gone.
fn say(line: &str) {
    let _ = writeln!(std::io::stdout(), "\n{line}");
}

/// Tells how the evening is kept, and how printing stands.
fn tell_states(station: &Station) {
    let mut reports = station.reports();
    let station = station.clone();
    let state = |state: &KeepState| {
        let word = if state.is_well() { "well" } else { "ill" };
        say(&format!("{word} {}", state.words()));
    };
    let now = move || station.look(|sum| sum.keeping.iter().for_each(state));
    now();
    std::thread::spawn(move || {
        let mut printing = String::new();
        while let Some(delivery) = reports.wait() {
            let Delivery::Report(report) = delivery else {
                now();
                continue;
            };
            match &*report {
                Report::Keeping(kept) => state(kept),
                Report::Input(InputReport::Kept { words, .. }) => say(&format!("notice {words}")),
                Report::Paper(paper) => {
                    let now = paper.error.clone().unwrap_or_default();
                    if std::mem::replace(&mut printing, now) != printing {
                        say(&format!("paper {printing}"));
                    }
                }
                _ => {}
            }
        }
    });
}

fn obey(world: &World, station: &Station, stop: tokio::sync::oneshot::Sender<()>) {
    let mut line = 0;
    for order in std::io::stdin().lines().map_while(Result::ok) {
        let (word, value) = order.split_once(' ').unwrap_or((&order, "0"));
        let value: f64 = value.parse().expect("a number");
        let samples = (value * f64::from(RATE)) as u64;
        match word {
            "gone" => world.orders.lock().unwrap().push_back(Order::Gone(samples)),
            "lost" => world.orders.lock().unwrap().push_back(Order::Lost(samples)),
            "clock" => {
                let ms = (value * 1e3) as i64;
                world.clock_ms.fetch_add(ms as u64, SeqCst);
                say(&format!("clock {} {value}", world.position.load(SeqCst)));
            }
            "input" => {
                line = 1 - line;
                let asked = station.wish(&Wish::Listen(LINES[line].into()));
                asked.expect("another input");
            }
            "stop" => break,
            other => panic!("{other:?} is no order"),
        }
    }
    let _ = stop.send(());
}

/// The inputs that are offered besides the one it begins with.
const LINES: [&str; 2] = ["line 1", "line 2"];

/// What the station may listen to and print on.
struct Shack(Arc<World>);

impl Inputs for Shack {
    fn list(&self) -> Vec<InputChoice> {
        let choice = |line: &str| InputChoice {
            id: line.into(),
            name: line.into(),
        };
        LINES.map(choice).into()
    }

    fn open(&self, id: &str) -> Result<Box<dyn Source>, String> {
        Ok(Box::new(Cable {
            world: Arc::clone(&self.0),
            name: id.into(),
            pace: Pace::new(&self.0),
            gone_until: None,
            heard: false,
        }))
    }
}

impl Machines for Shack {
    fn list(&self) -> Listing {
        Listing::default()
    }

    fn setup(&self, _name: &str, _way: Option<&str>) -> Result<Setup, String> {
        let machine = Machine {
            rate_baud: 300.0,
            stop_units: 1.0,
            return_s: 0.0,
            ..plain_machine()
        };
        let way = format!("codes:127.0.0.1:{}", self.0.life.machine);
        Ok(Setup {
            way: Some(way.parse().expect("a way")),
            ..Setup::of(machine)
        })
    }
}

/// The sound of the evening as it comes through a cable.
struct Cable {
    world: Arc<World>,
    name: String,
    pace: Pace,
    gone_until: Option<u64>,
    heard: bool,
}

impl Cable {
    fn position(&self) -> u64 {
        self.world.position.load(SeqCst)
    }

    /// What is missing until there; told before anything else can happen.
    fn miss(&self, until: u64, why: &str) -> u64 {
        let from = self.position();
        say(&format!("missing {from} {until} {why}"));
        self.world.hand(until);
        until - from
    }
}

impl World {
    /// All until this place is handed over or lost.
    fn hand(&self, until: u64) {
        self.position.store(until, SeqCst);
        let bytes = until.to_le_bytes();
        self.handed.write_all_at(&bytes, 0).expect("written");
    }
}

impl Source for Cable {
    fn name(&self) -> String {
        self.name.clone()
    }

    fn rate(&self) -> u32 {
        RATE
    }

    /// At this speed a slow computer is waited for.
    fn is_live(&self) -> bool {
        false
    }

    fn take(&mut self, block: &mut Vec<f32>) -> Taken {
        if !std::mem::replace(&mut self.heard, true) {
            say(&format!("from {}", self.position()));
        }
        if let Some(until) = self.gone_until {
            std::thread::sleep(Duration::from_millis(5));
            if self.pace.passed() < until {
                return Taken::Nothing;
            }
            self.gone_until = None;
            let lost = self.miss(until, "device");
            return Taken::Back { lost };
        }
        let order = self.world.orders.lock().unwrap().pop_front();
        let from = self.position();
        match order {
            Some(Order::Gone(samples)) => {
                self.gone_until = Some(from + samples);
                let why = "the cable is out".into();
                Taken::Gone { why }
            }
            Some(Order::Lost(samples)) => Taken::Gap {
                lost: self.miss(from + samples, "lost"),
            },
            None => {
                self.pace.wait(from);
                let place = self.world.life.from + from;
                let samples = place..place + BLOCK as u64;
                block.clear();
                block.extend(samples.map(|at| f32::from(self.world.evening.at(at)) / 32_768.0));
                self.world.hand(from + BLOCK as u64);
                Taken::Sound
            }
        }
    }
}

/// How fast the sound comes.
struct Pace {
    per_s: f64,
    begun: Instant,
    /// Samples that had come by then.
    before: u64,
}

impl Pace {
    fn new(world: &World) -> Self {
        Pace {
            per_s: f64::from(RATE) * world.life.speed,
            begun: Instant::now(),
            before: world.position.load(SeqCst),
        }
    }

    fn passed(&self) -> u64 {
        self.before + (self.begun.elapsed().as_secs_f64() * self.per_s) as u64
    }

    /// Waits until it is time for this sample; what was late goes on from now.
    fn wait(&mut self, sample: u64) {
        let passed = self.passed();
        if passed > sample + (0.5 * self.per_s) as u64 {
            (self.begun, self.before) = (Instant::now(), sample);
        }
        let early_s = sample.saturating_sub(passed) as f64 / self.per_s;
        // Few long waits are cheaper than many short ones.
        if early_s > 0.005 {
            std::thread::sleep(Duration::from_secs_f64(early_s));
        }
    }
}

/// How many samples the program that writes this has handed over.
pub fn handed(path: &Path) -> u64 {
    let bytes = std::fs::read(path).unwrap_or_default();
    let bytes = bytes.try_into().unwrap_or_default();
    u64::from_le_bytes(bytes)
}
