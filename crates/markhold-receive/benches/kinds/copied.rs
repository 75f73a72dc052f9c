//! What markhold prints: default settings, decided copy, everything from the begin of the
//! sound to its end.

use crate::clock::Begin;
use crate::evenings::evening::Recording;
use crate::glyphs::Printed;
use markhold_receive::event::{Character, Event};
use markhold_receive::{Receiver, Settings};

/// What came out.
#[derive(Default)]
pub struct Copied {
    pub glyphs: Vec<Printed>,
    /// From the begin of sending until the first decided character of it, s.
    pub first_s: Option<f64>,
    /// Time on a processor, s.
    pub took_s: f64,
}

/// Sound is given in blocks of so many seconds.
const BLOCK_S: f64 = 0.1;
/// A character that begins so long before anything was sent is none of it.
const EARLIER_S: f64 = 0.1;

/// Lets a new receiver hear the recording; `at_hz` is where the user points, if anywhere.
pub fn copy(recording: &Recording, at_hz: Option<f64>) -> Copied {
    let settings = Settings {
        at_hz,
        ..Settings::default()
    };
    let mut receiver = Receiver::new(recording.rate, settings).expect("sound as it may be");
    let mut copied = Copied {
        glyphs: Vec::new(),
        first_s: None,
        took_s: 0.0,
    };
    let begin = Begin::now();
    let mut heard = 0;
    for block in recording.sound.chunks((BLOCK_S * recording.rate) as usize) {
        heard += block.len();
        let now_s = heard as f64 / recording.rate;
        receiver.process(block, &mut |e| copied.take(&e, now_s, recording.begin_s));
    }
    let end_s = heard as f64 / recording.rate;
    receiver.finish(&mut |e| copied.take(&e, end_s, recording.begin_s));
    copied.took_s = begin.elapsed_s();
    copied
}

impl Copied {
    fn take(&mut self, event: &Event, now_s: f64, begin_s: f64) {
        match event {
            // Another signal begins at the margin.
            Event::Found(_) | Event::Ended(_) => self.glyphs.push(Printed {
                glyph: '\n',
                probability: 1.0,
                sure: true,
            }),
            Event::Character(character) => {
                if character.start_s > begin_s - EARLIER_S {
                    self.first_s.get_or_insert(now_s - begin_s);
                }
                self.glyphs.extend(printed(character));
            }
            Event::Early(_) | Event::Unlikely(_) => {}
        }
    }
}

/// What a character leaves on the page; bells and the like leave nothing.
fn printed(character: &Character) -> Option<Printed> {
    let glyph = character.symbol.text()?;
    let seen = matches!(glyph, '\r' | '\n') || !glyph.is_control();
    seen.then_some(Printed {
        glyph,
        probability: f64::from(character.probability),
        sure: character.doubt.is_none(),
    })
}
