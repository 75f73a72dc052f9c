//! One case, and the scenes that its seeds make of it.

use crate::text::{Draw, draw, message, pure};
use markhold_air::{CrashTiming, Gaps, Pace, Place, Scene, Sender};
use markhold_code::{Code, EncodeOptions, FiguresRow, StartStop, encode};
use markhold_receive::settings::LanguageUse;
use rand::RngExt;

/// What a case must reach.
#[derive(Clone, Debug)]
pub struct Target {
    /// Character errors at most, % of the characters sent; of [`Length::Hour`] characters
    /// at most in an hour.
    pub percent: f64,
    /// What is held to it, where that is not plain.
    pub of: &'static str,
}

/// How long a scene is.
#[derive(Clone, Copy, Debug)]
pub enum Length {
    /// Printed characters of text.
    Characters(usize),
    /// As much text as fits, s.
    Seconds(f64),
    /// An hour in which nobody sends.
    Hour,
}

/// What a text is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Matter {
    /// Prose and reports in any order.
    Mixed,
    /// Prose alone.
    Prose,
    /// Calls, serials, times and frequencies alone.
    Reports,
}

/// Where the middle of the tones is drawn from.
#[derive(Clone, Copy, Debug)]
pub enum Middle {
    /// About one of the two customary pairs, 2125/2295 and 1275/1445 Hz (common practice),
    /// as near as a person sets a dial by ear.
    Usual,
    /// About 1700 Hz, so that wide shifts fit a voice channel.
    OfPassband,
    /// Tones anywhere from 400 to 2800 Hz.
    Anywhere,
}

impl Middle {
    /// The customary place for a shift, Hz.
    pub fn of_shift(shift_hz: f64) -> Self {
        if shift_hz > 200.0 {
            Middle::OfPassband
        } else {
            Middle::Usual
        }
    }

    fn draw_hz(self, shift_hz: f64, draw: &mut Draw) -> f64 {
        let by_ear_hz = draw.random_range(-20.0..=20.0);
        match self {
            Middle::Usual if draw.random_bool(0.5) => 2210.0 + by_ear_hz,
            Middle::Usual => 1360.0 + by_ear_hz,
            Middle::OfPassband => 1700.0 + by_ear_hz,
            Middle::Anywhere => draw.random_range(400.0 + shift_hz / 2.0..=2800.0 - shift_hz / 2.0),
        }
    }
}

/// One line of the table.
#[derive(Clone, Debug)]
pub struct Case {
    /// Its name in the table.
    pub name: String,
    /// What it must reach; all of them.
    pub targets: Vec<Target>,
    /// What theory allows or a simulation reached, in words.
    pub ceiling: &'static str,
    /// How long it is.
    pub length: Length,
    /// What is sent.
    pub matter: Matter,
    /// Whether language joins the reading.
    pub language: LanguageUse,
    /// Where the tones are.
    pub middle: Middle,
    /// What is on the air; seed, text, place, directions and times are drawn.
    pub scene: Scene,
    /// What the same receiver hears after it, in equal parts of the time.
    pub following: Vec<Scene>,
}

/// How long scenes that were asked for in a hurry are at most.
const QUICK_CHARACTERS: usize = 300;
const QUICK_HOUR_S: f64 = 600.0;

impl Case {
    /// What the receiver hears with this seed, one scene after the other.
    pub fn scenes(&self, seed: u64, quick: bool) -> Vec<Scene> {
        let mut draw = draw(drawn_as(&self.name), seed);
        let scenes = std::iter::once(&self.scene).chain(&self.following);
        let mut scenes: Vec<Scene> = scenes.cloned().collect();
        let parts = scenes.len() as f64;
        for scene in &mut scenes {
            scene.seed = draw.random();
            match scene.senders.first_mut() {
                Some(sender) => self.lay_out(sender, seed, quick, &mut draw),
                None => scene.duration_s = Some(self.seconds(quick) / parts),
            }
            scene.silence_after_s = draw.random_range(1.0..=3.0);
            self.vary(scene, seed, &mut draw);
        }
        scenes
    }

    fn seconds(&self, quick: bool) -> f64 {
        match self.length {
            Length::Hour if quick => QUICK_HOUR_S,
            Length::Hour => 3600.0,
            Length::Seconds(seconds) => seconds,
            Length::Characters(_) => f64::INFINITY,
        }
    }

    /// Draws what the sender sends, where and when.
    fn lay_out(&self, sender: &mut Sender, seed: u64, quick: bool, draw: &mut Draw) {
        sender.speed = speed(sender.speed.rate_baud, seed as usize);
        sender.centre_hz = self.middle.draw_hz(sender.shift_hz, draw);
        sender.begin_s = draw.random_range(1.0..=3.0);
        sender.lead_in_s = draw.random_range(1.0..=3.0);
        sender.tail_s = draw.random_range(0.3..=1.0);
        let codes_in = |s: f64| (s / sender.speed.character_s()) as usize;
        sender.codes = match self.length {
            Length::Characters(n) if quick => self.codes(draw, n.min(QUICK_CHARACTERS)),
            Length::Characters(n) => self.codes(draw, n),
            // Shifts only add codes, so the text is long enough to be cut.
            _ => {
                let count = codes_in(self.seconds(quick));
                let mut codes = self.codes(draw, count);
                codes.truncate(count);
                codes
            }
        };
        if let (Pace::Keyboard { gaps, .. }, 1) = (&mut sender.pace, seed % 2) {
            *gaps = Gaps::LogNormal { sigma: 0.7 };
        }
    }

    fn codes(&self, draw: &mut Draw, characters: usize) -> Vec<Code> {
        codes_of(&match self.matter {
            Matter::Mixed => message(draw, characters),
            Matter::Prose => pure(draw, characters, true),
            Matter::Reports => pure(draw, characters, false),
        })
    }

    /// Draws directions, and whether crashes come at random.
    fn vary(&self, scene: &mut Scene, seed: u64, draw: &mut Draw) {
        if draw.random_bool(0.5) {
            let drift = &mut scene.dial_drift;
            drift.linear_hz_per_s = -drift.linear_hz_per_s;
            drift.warm_up_hz = -drift.warm_up_hz;
            drift.hops.iter_mut().for_each(|h| h.by_hz = -h.by_hz);
            for carrier in &mut scene.carriers {
                if let Place::Beside(hz) = &mut carrier.place {
                    *hz = -*hz;
                }
            }
        }
        if let (Some(crashes), 1) = (&mut scene.crashes, seed % 2) {
            crashes.timing = CrashTiming::Regular { jitter: 0.5 };
        }
    }
}

/// The same with and without language hears the same.
fn drawn_as(name: &str) -> &str {
    let name = name.strip_suffix(crate::language::WITH).unwrap_or(name);
    name.strip_suffix(crate::language::WITHOUT).unwrap_or(name)
}

/// A message as it is sent: two letters shifts and a new line stand before it, so that
/// paper and shift are right whatever was before (common practice).
fn codes_of(text: &str) -> Vec<Code> {
    let options = EncodeOptions::default();
    let body = encode(text, FiguresRow::Ita2, options).expect("texts hold sendable characters");
    let before = [
        Code::LETTERS,
        Code::LETTERS,
        Code::CARRIAGE_RETURN,
        Code::LINE_FEED,
    ];
    before.into_iter().chain(body).collect()
}

/// The stop elements met with at a rate, units: 1.42 is usual with the slow rate in the
/// United States, 1.5 at the others (US Navy electrician training text).
fn stop_elements(rate_baud: f64) -> &'static [f64] {
    if rate_baud < 50.0 {
        &[1.42, 1.5]
    } else {
        &[1.5]
    }
}

/// A speed with one of its stop elements.
fn speed(rate_baud: f64, pick: usize) -> StartStop {
    let stops = stop_elements(rate_baud);
    StartStop::new(rate_baud, stops[pick % stops.len()])
}
