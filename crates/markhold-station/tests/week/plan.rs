//! What is sent in the week, and when.

use jiff::Timestamp;
use markhold_air::{Air, Scene, Sender};
use markhold_code::FiguresRow;
use markhold_skeds::{Channel, Figure, Sked, When};

/// Samples per second, Hz.
pub const RATE: u32 = 8000;

/// A time so many seconds after the week's beginning: Monday, 2 November 2026.
pub fn at(s: i64) -> Timestamp {
    at_ms(1000 * s)
}

/// The same in ms.
pub fn at_ms(ms: i64) -> Timestamp {
    Timestamp::from_millisecond(1_793_577_600_000 + ms).expect("a time")
}

/// A bulletin as it is sent.
#[derive(Clone, Debug)]
pub struct Bulletin {
    pub number: i64,
    /// When its sked is due, s.
    pub due: i64,
    /// Its first and last moment, s.
    pub from: i64,
    pub until: i64,
    pub text: String,
    shift_hz: f64,
    centre_hz: f64,
}

/// How many skeds there are, s between two of them, and how many of them are unusual.
#[derive(Clone, Copy, Debug)]
pub struct Size {
    pub skeds: i64,
    pub apart: i64,
    pub late: i64,
    pub overrun: i64,
    pub overlap: i64,
}

/// What the receiver's dial shows all week, on the lower sideband, kHz, and how many Hz too high.
pub const DIAL_KHZ: f64 = 3600.0;
pub const DIAL_READS_HIGH_HZ: f64 = 430.0;

/// How long a sked says it lasts, min.
const LENGTH_MIN: f64 = 1.0;
/// Characters in a second: 45.45 baud, 7.42 units.
const PER_S: f64 = 45.45 / 7.42;

impl Bulletin {
    /// The sked under whose name it is to be found.
    pub fn sked(&self) -> Sked {
        Sked {
            station: format!("Q{}SIM", self.number),
            name: format!("bulletin {}", self.number),
            sends: String::new(),
            channels: vec![Channel {
                khz: DIAL_KHZ - (self.centre_hz + DIAL_READS_HIGH_HZ) / 1e3,
                means: Figure::Middle,
            }],
            shift_hz: Some(self.shift_hz),
            rate_baud: Some(45.45),
            mark: None,
            when: When {
                zone: "UTC".into(),
                first: jiff::tz::TimeZone::UTC.to_datetime(at(self.due)),
                rules: vec![],
                except: vec![],
                also: vec![],
            },
            length_min: LENGTH_MIN,
            place: String::new(),
            notes: String::new(),
            print_on: String::new(),
        }
    }

    /// By this it is known wherever it is.
    pub fn mark(&self) -> String {
        format!("NR {} DE Q{}SIM", self.number, self.number)
    }

    /// Its sound, without noise.
    pub fn sound(&self) -> Vec<f32> {
        let sender = Sender::of_text(&self.text, FiguresRow::Ita2).expect("it can be sent");
        let scene = Scene {
            seed: self.number as u64,
            senders: vec![Sender {
                shift_hz: self.shift_hz,
                centre_hz: self.centre_hz,
                ..sender
            }],
            level_dbfs: -20.0,
            ..Scene::default()
        };
        Air::new(scene, RATE).expect("a scene").render()
    }
}

/// Words of a bulletin of this number for so many seconds.
fn text(number: i64, for_s: f64) -> String {
    let words = [
        "TIDE", "LANTERN", "ROPEWALK", "MARSH", "FERRY", "NORTH", "SLUICE", "HARBOUR", "WEATHER",
        "SHALLOW", "BEACON", "MILL", "QUIET", "EASTERLY", "JETTY", "BARLEY",
    ];
    let mut text = format!("ZCZC NR {number} DE Q{number}SIM ");
    let mut k = number as usize;
    while (text.len() as f64) < for_s * PER_S - 16.0 {
        text += words[k % words.len()];
        text += " ";
        k = (k * 5 + 3 + text.len()) % 1000;
    }
    text + "NNNN"
}

/// The week. Late ones first, then those that overrun; the last come at the same time as the
/// first, on other tones.
pub fn week(size: Size) -> Vec<Bulletin> {
    let bulletin = |number: i64| {
        let alone = size.skeds - size.overlap;
        let overlaps = number >= alone;
        let slot = if overlaps { number - alone } else { number };
        let due = 600 + slot * size.apart + if overlaps { 20 } else { 0 };
        let late = match number {
            n if n < size.late => 25 + 7 * (n % 5),
            n => n % 3,
        };
        let over = (size.late..size.late + size.overrun).contains(&number);
        let for_s = if over { 110.0 } else { 42.0 };
        let text = text(number, for_s);
        let from = due + late;
        // Idle mark before and after it, and the shifts to figures and back.
        let lasts = 2.0 + (text.len() + 12) as f64 / PER_S;
        let (shift_hz, centre_hz) = if overlaps {
            (450.0, 1000.0)
        } else {
            (170.0, 2210.0)
        };
        Bulletin {
            number,
            due,
            from,
            until: from + lasts.ceil() as i64,
            text,
            shift_hz,
            centre_hz,
        }
    };
    (0..size.skeds).map(bulletin).collect()
}
