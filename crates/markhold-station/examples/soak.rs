//! Hours of sound through the live path as fast as it goes: memory stays flat, no sample
//! and no character is lost against the copy of the receiver alone, and what a second of
//! sound costs. The receiver alone hears the same beside it, so that a run that is stopped
//! has compared all that it printed.
//!
//! cargo run --release -p markhold-station --example soak -- [MINUTES [RATE]]

use markhold_air::{Agc, Air, Channel, Crashes, Drift, Hops, Noise, Passband, Scene, Sender};
use markhold_code::FiguresRow;
use markhold_event::{Character, Event};
use markhold_receive::Receiver;
use markhold_shelf::GapCause;
use markhold_sound::{Source, Taken};
use markhold_station::live::{KeepSound, Live, LiveOptions};
use markhold_station::report::{Anchor, InputReport};
use markhold_station::settings::InUse;
use markhold_station::{Delivery, Report};
use std::hash::{DefaultHasher, Hash, Hasher};
use std::sync::{Arc, Mutex};
use std::time::Instant;

/// The evening is made once and heard over and over, min.
const EVENING_MIN: u32 = 10;
/// How often a line is printed, s of sound: over a day, hourly.
const LINE_S: (f64, f64) = (600.0, 3600.0);
/// From here on it is a long one, min.
const LONG_MIN: u32 = 240;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let mut given = std::env::args().skip(1).map(|word| word.parse::<u32>());
    let minutes = given.next().transpose()?.unwrap_or(60).max(EVENING_MIN);
    let rate = given.next().transpose()?.unwrap_or(8000);
    let evening: Arc<[f32]> = Air::new(scene(), rate)?.render().into();
    let rounds = minutes / EVENING_MIN;
    println!(
        "{} min of sound at {rate} Hz, through the live path",
        rounds * EVENING_MIN
    );
    let (kept, alone) = (Kept::default(), Kept::default());
    let before_s = cpu_s();
    let beside = std::thread::spawn({
        let (evening, alone) = (evening.clone(), alone.clone());
        move || listen_alone(&evening, rounds, rate, &alone)
    });
    live(&evening, rounds, rate, (&kept, &alone));
    beside.join().map_err(|_| "the receiver alone died")??;
    let sound_s = f64::from(rounds * EVENING_MIN) * 60.0;
    println!(
        "{:.2} % of one core in real time, all threads, the receiver alone as well",
        100.0 * (cpu_s() - before_s) / sound_s
    );
    let all = evening.len() as u64 * u64::from(rounds);
    let [kept, alone] = [kept.count(), alone.count()];
    println!(
        "samples kept: {} of {all}, told lost: {}; characters: {} live, {} by the receiver alone",
        kept.samples, kept.lost, kept.copied.count, alone.copied.count
    );
    let right = kept.samples == all && kept.lost == 0 && kept.copied == alone.copied;
    println!("{}", if right { "ok" } else { "NOT the same" });
    Ok(())
}

/// A fading, drifting evening with crashes and a receiver that pumps.
fn scene() -> Scene {
    let text = "THE HARBOUR CLUB WISHES ALL STATIONS A QUIET EVENING 73 DE Q1ABC\r\n";
    let sender = Sender {
        repeat: true,
        channel: Channel::MID_LATITUDE_MODERATE,
        ..Sender::of_text(text, FiguresRow::Ita2).expect("it can be sent")
    };
    Scene {
        senders: vec![sender],
        noise: Noise::EsN0Db(20.0),
        crashes: Some(Crashes {
            rate_per_s: 0.2,
            ..Crashes::default()
        }),
        passband: Some(Passband::default()),
        agc: Some(Agc::default()),
        dial_drift: Drift {
            hops: Some(Hops {
                period_s: 47.0,
                by_hz: 12.0,
            }),
            ..Drift::default()
        },
        duration_s: Some(f64::from(EVENING_MIN) * 60.0),
        ..Scene::default()
    }
}

/// Plays an evening over and over.
struct Evenings {
    evening: Arc<[f32]>,
    rounds: u32,
    rate: u32,
    at: usize,
}

impl Source for Evenings {
    fn name(&self) -> String {
        "evenings".into()
    }

    fn rate(&self) -> u32 {
        self.rate
    }

    fn is_live(&self) -> bool {
        false
    }

    fn take(&mut self, block: &mut Vec<f32>) -> Taken {
        if self.rounds == 0 {
            return Taken::Ended { why: None };
        }
        let end = (self.at + self.rate as usize / 50).min(self.evening.len());
        block.clear();
        block.extend_from_slice(&self.evening[self.at..end]);
        self.at = end;
        if end == self.evening.len() {
            (self.at, self.rounds) = (0, self.rounds - 1);
        }
        Taken::Sound
    }
}

/// Characters without keeping them: how many, and a digest of all up to each thousandth.
#[derive(Clone, Debug, Default, PartialEq)]
struct Digest {
    count: u64,
    hasher: u64,
    thousands: Vec<u64>,
}

impl Digest {
    fn add(&mut self, character: &Character) {
        let mut hasher = DefaultHasher::new();
        self.hasher.hash(&mut hasher);
        format!("{character:?}").hash(&mut hasher);
        self.hasher = hasher.finish();
        self.count += 1;
        if self.count.is_multiple_of(1000) {
            self.thousands.push(self.hasher);
        }
    }
}

#[derive(Clone, Default)]
struct Count {
    samples: u64,
    lost: u64,
    copied: Digest,
}

/// Counts what it is given.
#[derive(Clone, Default)]
struct Kept(Arc<Mutex<Count>>);

impl Kept {
    fn add(&self, add: impl FnOnce(&mut Count)) {
        if let Ok(mut count) = self.0.lock() {
            add(&mut count);
        }
    }

    fn count(&self) -> Count {
        self.0
            .lock()
            .map_or(Count::default(), |count| count.clone())
    }
}

impl KeepSound for Kept {
    fn begin(&mut self, _: &str, _: u32, _: &Anchor, _: GapCause) {}

    fn sound(&mut self, samples: &[f32]) {
        self.add(|count| count.samples += samples.len() as u64);
    }

    fn gap(&mut self, lost: Option<u64>, _: GapCause) {
        self.add(|count| count.lost += lost.unwrap_or(0));
    }

    fn event(&mut self, event: &Event) {
        if let Event::Character(character) = event {
            self.add(|count| count.copied.add(character));
        }
    }

    fn finish(&mut self) -> Result<(), String> {
        Ok(())
    }
}

/// Listens to all of it; prints memory and what is equal as it goes.
fn live(evening: &Arc<[f32]>, rounds: u32, rate: u32, (kept, alone): (&Kept, &Kept)) {
    let source = Evenings {
        evening: evening.clone(),
        rounds,
        rate,
        at: 0,
    };
    let options = LiveOptions {
        keeper: Box::new(kept.clone()),
        ..LiveOptions::default()
    };
    let begun = Instant::now();
    let live = Live::start(Box::new(source), options).expect("a rate");
    let mut subscription = live.board().join().1;
    let (mut next_s, mut missed) = (0.0, 0);
    let line_s = match rounds * EVENING_MIN {
        0..LONG_MIN => LINE_S.0,
        _ => LINE_S.1,
    };
    while let Some(delivery) = subscription.wait() {
        match delivery {
            Delivery::Report(report) => match report.as_ref() {
                Report::Instruments(shown) if shown.until_s >= next_s => {
                    let speed = shown.until_s / begun.elapsed().as_secs_f64();
                    let at = shown.until_s / 60.0;
                    println!(
                        "{at:5.0} min  {:6.1} MB  {speed:4.0} times real time  {}",
                        rss_mb(),
                        compared(&kept.count(), &alone.count())
                    );
                    next_s += line_s;
                }
                Report::Input(InputReport::Ended { .. }) => break,
                _ => {}
            },
            Delivery::Missed(count) => missed += count,
        }
    }
    live.stop();
    let lost = live.board().snapshot().inputs.into_iter().skip(1);
    for report in lost {
        println!("  told: {report:?}");
    }
    println!(
        "  end      {:6.1} MB; this page missed {missed} reports",
        rss_mb()
    );
}

/// How far two copies were compared, and whether they are equal so far.
fn compared(live: &Count, alone: &Count) -> String {
    let thousands = live.copied.thousands.iter().zip(&alone.copied.thousands);
    let both = thousands.clone().count();
    let same = thousands.take_while(|(a, b)| a == b).count();
    format!(
        "{} samples, {} lost, {same} of {both} thousand characters equal",
        live.samples, live.lost
    )
}

fn listen_alone(evening: &[f32], rounds: u32, rate: u32, heard: &Kept) -> Result<(), String> {
    let mut heard = heard.clone();
    let settings = InUse::default().settings();
    let mut receiver = Receiver::new(f64::from(rate), settings).map_err(|e| e.to_string())?;
    for _ in 0..rounds {
        // In pieces, so that it is told how far it is.
        for piece in evening.chunks(rate as usize) {
            let mut events = Vec::new();
            receiver.process(piece, &mut |event| events.push(event));
            events.iter().for_each(|event| heard.event(event));
        }
    }
    let mut events = Vec::new();
    receiver.finish(&mut |event| events.push(event));
    events.iter().for_each(|event| heard.event(event));
    Ok(())
}

/// Memory of this program, MB (Linux).
fn rss_mb() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmRSS:"));
    let kb = line.and_then(|l| l.split_whitespace().next()?.parse::<f64>().ok());
    kb.unwrap_or(f64::NAN) / 1024.0
}

/// Time that all threads of this program have spent, s (Linux, in hundredths).
fn cpu_s() -> f64 {
    let stat = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let after_name = stat.rsplit(')').next().unwrap_or_default();
    let fields: Vec<f64> = after_name
        .split_whitespace()
        .map(|f| f.parse().unwrap_or(0.0))
        .collect();
    // utime and stime are the 14th and 15th fields, the 12th and 13th after the name.
    fields
        .get(11..13)
        .map_or(f64::NAN, |f| (f[0] + f[1]) / 100.0)
}
