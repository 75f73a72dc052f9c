//! A machine's own keyboard: its line, what a port marks in it, and the words for its way.

use super::{refused, seeds, size, went};
use crate::{Target, Went};
use markhold_code::{FiguresRow, StartStop};
use markhold_wire::keyboard::{
    Echo, Framer, Heard, Judged, KeyboardWords, Marked, Stroke, Typed, Typist,
};
use std::time::{Duration, Instant};

pub const KEYBOARD: Target = Target {
    name: "keyboard",
    try_bytes: keyboard,
    seeds: || {
        let mut all = seeds(&[
            "cts:/dev/ttyUSB0",
            "serial:COM3",
            "codes:-",
            "ri:",
            "codes:a:b",
        ]);
        // A line of some characters: lengths in steps of 2 ms, mark and space by turns.
        all.push(vec![
            50, 11, 11, 11, 11, 11, 11, 33, 22, 11, 33, 66, 16, 255, 0, 0, 200,
        ]);
        all.push(vec![255, 0, 0, 3, 255, 0, 7, 31, 255, 255, 4]);
        all
    },
    words: &["cts:", "dsr:", "dcd:", "ri:", "serial:", "codes:", "-", ":"],
    longest: 2048,
};

/// The same bytes as words, as what a port gives, and as lengths of a line.
fn keyboard(bytes: &[u8]) -> Went {
    let text = String::from_utf8_lossy(bytes);
    let words = match text.parse::<KeyboardWords>() {
        Ok(words) => {
            assert_eq!(words.to_string(), text);
            went(std::mem::discriminant(&words))
        }
        Err(error) => refused(error),
    };
    let marked = marked(bytes);
    let framed = framed(bytes);
    let typed = typed(bytes, &framed);
    went((words, size(marked.len()), size(framed.len()), size(typed)))
}

fn marked(bytes: &[u8]) -> Vec<Stroke> {
    let mut marked = Marked::default();
    let all: Vec<Stroke> = bytes.iter().filter_map(|byte| marked.take(*byte)).collect();
    assert!(all.len() <= bytes.len());
    all
}

/// Characters do not overlap, and how often the line is looked at changes nothing.
fn framed(bytes: &[u8]) -> Vec<Stroke> {
    let speed = StartStop::new(1.0 / 0.022, 1.5);
    let once = frame(bytes, speed, 1);
    assert_eq!(once, frame(bytes, speed, 7));
    let starts: Vec<f64> = once.iter().map(|framed| framed.0).collect();
    assert!(starts.windows(2).all(|two| two[0] <= two[1]), "{starts:?}");
    once.into_iter().map(|framed| framed.1).collect()
}

fn frame(bytes: &[u8], speed: StartStop, looks: u32) -> Vec<(f64, Stroke)> {
    let mut framer = Framer::new(speed, 0.2);
    let (mut at_s, mut all) = (0.0, Vec::new());
    for (k, byte) in bytes.iter().enumerate() {
        framer.edge(at_s, k % 2 == 0);
        let length_s = 0.002 * f64::from(*byte);
        for look in 1..=looks {
            framer.until(at_s + length_s * f64::from(look) / f64::from(looks));
            all.extend(std::iter::from_fn(|| framer.take()).map(|it| (it.start_s, it.stroke)));
        }
        at_s += length_s;
    }
    all
}

/// Whatever is heard, of what was sent nothing is typed twice, and a break is never text.
fn typed(bytes: &[u8], strokes: &[Stroke]) -> usize {
    let (echo, speed) = (Echo::default(), StartStop::new(50.0, 1.5));
    let mut typist = Typist::new(FiguresRow::Us, false);
    let begun = Instant::now();
    let mut count = 0;
    for (k, stroke) in strokes.iter().enumerate() {
        let at = begun + Duration::from_millis(150 * k as u64);
        if let (Stroke::Code(code), true) = (stroke, bytes[k % bytes.len()].is_multiple_of(2)) {
            echo.sent(*code, speed, at);
            let heard = Heard {
                stroke: *stroke,
                at,
            };
            assert_ne!(echo.judge(&heard), Judged::Typed, "it was sent just now");
            continue;
        }
        let judged = echo.judge(&Heard {
            stroke: *stroke,
            at,
        });
        match typist.take(*stroke, judged) {
            Some(Typed::Break) => assert_eq!(*stroke, Stroke::Break),
            Some(Typed::Text(text)) => count += text.len(),
            None => {}
        }
    }
    count
}
