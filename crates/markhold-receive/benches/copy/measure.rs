//! One case with one seed: made, copied, scored.

use crate::case::Case;
use crate::page::page;
use crate::score::errors;
use markhold_air::{Air, Scene};
use markhold_code::{Code, FiguresRow, decode};
use markhold_receive::event::Event;
use markhold_receive::{Receiver, Settings};

/// Samples a second: what telephone bandwidth needs.
const SAMPLE_RATE: u32 = 8000;

/// What came of it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Outcome {
    /// Characters sent.
    pub sent: usize,
    /// Wrong, missing and extra characters.
    pub errors: usize,
    /// Glyphs sent, as a reader would see them: spaces and line ends are some, shifts none.
    pub glyphs: usize,
    /// Wrong, missing and extra glyphs.
    pub glyph_errors: usize,
    /// Signals reported.
    pub signals: usize,
    /// How long the scenes are, s.
    pub seconds: f64,
}

impl Outcome {
    /// Both together.
    pub fn and(self, other: Outcome) -> Outcome {
        Outcome {
            sent: self.sent + other.sent,
            errors: self.errors + other.errors,
            glyphs: self.glyphs + other.glyphs,
            glyph_errors: self.glyph_errors + other.glyph_errors,
            signals: self.signals + other.signals,
            seconds: self.seconds + other.seconds,
        }
    }

    /// Errors in % of the characters sent; where none were, errors in one hour.
    pub fn rate(self) -> f64 {
        if self.sent > 0 {
            100.0 * self.errors as f64 / self.sent as f64
        } else {
            self.errors as f64 * 3600.0 / self.seconds
        }
    }

    /// Glyphs wrong in % of those sent, if any were.
    pub fn glyph_rate(self) -> Option<f64> {
        let rate = 100.0 * self.glyph_errors as f64 / self.glyphs as f64;
        (self.glyphs > 0).then_some(rate)
    }
}

/// Lets a new receiver hear the case with this seed, everything found by itself.
pub fn measure(case: &Case, seed: u64, quick: bool) -> Outcome {
    let settings = Settings {
        language: case.language,
        ..Settings::default()
    };
    let mut receiver = Receiver::new(f64::from(SAMPLE_RATE), settings).expect("default settings");
    let mut heard = Heard::default();
    for scene in case.scenes(seed, quick) {
        heard.scene(scene, &mut receiver);
    }
    receiver.finish(&mut |event| heard.event(event));
    heard.outcome()
}

/// What was sent and what was copied.
#[derive(Default)]
struct Heard {
    sent: Vec<Code>,
    copied: Vec<Code>,
    printed: String,
    signals: usize,
    seconds: f64,
}

impl Heard {
    fn scene(&mut self, scene: Scene, receiver: &mut Receiver) {
        let mut air = Air::new(scene, SAMPLE_RATE).expect("cases make sense");
        let truth = air.truth();
        self.sent.extend(truth.characters(0).iter().map(|c| c.code));
        self.seconds += truth.end_s();
        let mut block = vec![0.0; SAMPLE_RATE as usize / 4];
        loop {
            let count = air.fill(&mut block);
            if count == 0 {
                break;
            }
            receiver.process(&block[..count], &mut |event| self.event(event));
        }
    }

    fn event(&mut self, event: Event) {
        match event {
            Event::Character(character) => {
                self.copied.push(character.code);
                self.printed.extend(character.symbol.text());
            }
            Event::Found(_) => self.signals += 1,
            Event::Early(_) | Event::Unlikely(_) | Event::Ended(_) => {}
        }
    }

    fn outcome(self) -> Outcome {
        let glyphs = glyphs(&decode(&self.sent, FiguresRow::Ita2, false));
        Outcome {
            sent: self.sent.len(),
            errors: errors(&self.sent, &self.copied),
            glyphs: glyphs.len(),
            glyph_errors: errors(&glyphs, &self::glyphs(&self.printed)),
            signals: self.signals,
            seconds: self.seconds,
        }
    }
}

/// What a reader sees of a text.
fn glyphs(text: &str) -> Vec<char> {
    let ended = text.replace('\r', "\n");
    page(ended.chars(), |glyph| glyph)
}
