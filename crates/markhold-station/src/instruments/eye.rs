//! The eye picture of the elements.
//!
//! A small start-stop clock begins at a start element's edge and lays the seven elements
//! that follow over each other. It copies nothing; in noise the picture is as closed as the
//! signal is poor.

use super::tones::TwoTones;
use super::{EYE_POINTS, EyeTrace};
use std::collections::VecDeque;

/// Elements that are laid over each other: start, five, and the first of the stop.
const ELEMENTS: u8 = 7;
/// The next start is looked for so many elements after the last one: a stop element is at
/// least one unit long, less what distortion takes.
const NEXT: f64 = 6.6;
/// Time after which a level that is gone is forgotten, elements.
const FORGET: f64 = 30.0;

/// Draws traces.
#[derive(Clone, Debug)]
pub struct Eye {
    // configured
    /// Outputs of the filters in one element.
    element: f64,
    // derived
    forget: f32,
    kept: usize,
    // state
    levels: [f32; 2],
    /// Latest values of the discriminator, -1 space to 1 mark.
    line: VecDeque<f32>,
    /// Values before the first one in `line`.
    dropped: u64,
    /// Edges of starts and the element to be drawn next of each: the next character begins
    /// before the last stop element is drawn.
    drawn: VecDeque<(f64, u8)>,
    /// Edges before this are not starts.
    search_from: f64,
    traces: Vec<EyeTrace>,
}

impl Eye {
    /// An eye for filter outputs that come `rate` times a second.
    pub fn new(rate: f64, rate_baud: f64) -> Self {
        let element = rate / rate_baud;
        Eye {
            element,
            forget: (-1.0 / (FORGET * element)).exp() as f32,
            kept: (3.0 * element) as usize + 2,
            levels: [0.0; 2],
            line: VecDeque::new(),
            dropped: 0,
            drawn: VecDeque::new(),
            search_from: 0.0,
            traces: Vec::new(),
        }
    }

    /// Takes one output of the filters.
    pub fn process(&mut self, tones: TwoTones) {
        let value = self.discriminate([tones.mark.norm(), tones.space.norm()]);
        let before = self.line.back().copied().unwrap_or(0.0);
        self.line.push_back(value);
        if self.line.len() > self.kept {
            self.line.pop_front();
            self.dropped += 1;
        }
        let now = (self.dropped + self.line.len() as u64 - 1) as f64;
        if now >= self.search_from && before > 0.0 && value <= 0.0 {
            let edge = now - f64::from(value / (value - before));
            self.drawn.push_back((edge, 0));
            self.search_from = edge + NEXT * self.element;
        }
        self.draw(now);
    }

    fn discriminate(&mut self, sizes: [f32; 2]) -> f32 {
        for (level, size) in self.levels.iter_mut().zip(sizes) {
            *level = (*level * self.forget).max(size);
        }
        let [mark, space] = self.levels;
        (sizes[0] - sizes[1]) / mark.max(space).max(1e-9)
    }

    fn draw(&mut self, now: f64) {
        let ended = |(edge, element): &(f64, u8)| {
            now >= edge + (f64::from(*element) + 1.5) * self.element + 1.0
        };
        let Some(at) = self.drawn.iter().position(ended) else {
            return;
        };
        let (edge, element) = self.drawn[at];
        let points = self.trace(edge, element);
        if element == 0 && points[EYE_POINTS / 2] >= 0 {
            // No start element: a click.
            self.drawn.truncate(at);
            self.search_from = now;
            return;
        }
        self.traces.push(EyeTrace { element, points });
        self.drawn[at].1 += 1;
        self.drawn.retain(|(_, element)| *element < ELEMENTS);
    }

    fn trace(&self, edge: f64, element: u8) -> Vec<i8> {
        let step = 2.0 * self.element / (EYE_POINTS - 1) as f64;
        let from = edge + (f64::from(element) - 0.5) * self.element;
        let points = (0..EYE_POINTS).map(|k| self.at(from + step * k as f64));
        points.map(|v| (127.0 * v) as i8).collect()
    }

    /// The line at a place between two values.
    fn at(&self, place: f64) -> f32 {
        let place = (place - self.dropped as f64).max(0.0);
        let (i, part) = (place as usize, place.fract() as f32);
        let value = |i: usize| self.line.get(i).copied().unwrap_or(0.0);
        value(i) * (1.0 - part) + value(i + 1) * part
    }

    /// The traces since the last call.
    pub fn take(&mut self) -> Vec<EyeTrace> {
        std::mem::take(&mut self.traces)
    }
}

#[cfg(test)]
mod tests {
    use super::super::tones::{Pair, ToneFilters};
    use super::*;
    use markhold_air::{Air, Noise, Scene, Sender};
    use markhold_code::FiguresRow;

    fn traces(es_n0_db: f64) -> Vec<EyeTrace> {
        let sender = Sender::of_text("RYRYRY QUIET HARBOUR", FiguresRow::Ita2).expect("fits");
        let pair = Pair {
            mark_hz: sender.mark_hz(),
            space_hz: sender.space_hz(),
            rate_baud: 1.0 / sender.speed.element_s(),
        };
        let scene = Scene {
            senders: vec![sender],
            noise: Noise::EsN0Db(es_n0_db),
            ..Scene::default()
        };
        let mut filters = ToneFilters::new(8000, pair);
        let mut eye = Eye::new(filters.rate(), pair.rate_baud);
        let sound = Air::new(scene, 8000).expect("fine").render();
        filters.process(&sound, &mut |tones| eye.process(tones));
        eye.take()
    }

    /// Share of traces that are for certain mark or space in the middle of the element.
    fn open(traces: &[EyeTrace]) -> f64 {
        let middle = |t: &EyeTrace| t.points[EYE_POINTS / 2 + 2].unsigned_abs();
        let open = traces.iter().filter(|t| middle(t) > 50).count();
        open as f64 / traces.len() as f64
    }

    #[test]
    fn a_good_signal_has_an_open_eye_with_every_element_of_every_character() {
        let traces = traces(30.0);
        // Twenty characters; the first is the shift to letters or the first edge.
        let of = |element| traces.iter().filter(|t| t.element == element).count();
        for element in 0..ELEMENTS {
            assert!(
                (19..=21).contains(&of(element)),
                "{element}: {}",
                of(element)
            );
        }
        assert!(open(&traces) > 0.99, "{}", open(&traces));
    }

    #[test]
    fn noise_closes_the_eye() {
        let (good, poor) = (open(&traces(30.0)), open(&traces(3.0)));
        assert!(poor < good - 0.2, "{poor} against {good}");
    }

    #[test]
    fn the_start_is_space_and_the_stop_is_mark() {
        for trace in traces(30.0) {
            let middle = trace.points[EYE_POINTS / 2 + 2];
            match trace.element {
                0 => assert!(middle < 0),
                6 => assert!(middle > 0),
                _ => {}
            }
        }
    }
}
