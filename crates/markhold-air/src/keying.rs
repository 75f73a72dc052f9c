//! Which tone is on the line until when: elements with their edges as really keyed.

use crate::line::Characters;
use crate::random::{Part, Random, normal, random};
use crate::sender::Sender;
use crate::times::Times;
use markhold_code::Format;
use std::iter::Peekable;

/// Which stretch of a character is the stop element; 0 is the start element.
const STOP: usize = Format::FIVE_UNIT.units_before_stop();

/// What is sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Tone {
    Off,
    Mark,
    Space,
}

/// A stretch of one tone; it begins where the one before it ends, the first at 0.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Stretch {
    pub(crate) tone: Tone,
    pub(crate) end_s: f64,
}

/// Elements with ideal edges: one stretch for each start, code and stop element, the stop
/// element together with the idle mark after it.
#[derive(Clone, Debug)]
struct Elements {
    // Configured.
    element_s: f64,
    begin_s: f64,
    end_s: f64,
    // State.
    characters: Peekable<Characters>,
    stage: Stage,
}

/// Which stretch comes next.
#[derive(Clone, Copy, Debug)]
enum Stage {
    Silence,
    LeadIn,
    /// `place` 0 is the start element, then comes the code, [`STOP`] is the stop element.
    Element {
        of: crate::SentCharacter,
        place: usize,
    },
    Over,
}

impl Elements {
    fn new(sender: &Sender, times: Times, seed: u64, index: usize) -> Self {
        Self {
            element_s: sender.speed.element_s(),
            begin_s: sender.begin_s,
            end_s: times.end_s,
            characters: Characters::new(sender, times.text_until_s, seed, index).peekable(),
            stage: Stage::Silence,
        }
    }

    fn next_start_s(&mut self) -> f64 {
        self.characters.peek().map_or(self.end_s, |c| c.start_s)
    }

    fn next_stage(&mut self) -> Stage {
        match self.characters.next() {
            Some(of) => Stage::Element { of, place: 0 },
            None => Stage::Over,
        }
    }
}

impl Iterator for Elements {
    type Item = Stretch;

    fn next(&mut self) -> Option<Stretch> {
        Some(match self.stage {
            Stage::Silence => {
                self.stage = Stage::LeadIn;
                Stretch {
                    tone: Tone::Off,
                    end_s: self.begin_s,
                }
            }
            Stage::LeadIn => {
                let end_s = self.next_start_s();
                self.stage = self.next_stage();
                Stretch {
                    tone: Tone::Mark,
                    end_s,
                }
            }
            // The stop element lasts until the next character starts.
            Stage::Element { place: STOP, .. } => {
                let end_s = self.next_start_s();
                self.stage = self.next_stage();
                Stretch {
                    tone: Tone::Mark,
                    end_s,
                }
            }
            Stage::Element { of, place } => {
                self.stage = Stage::Element {
                    of,
                    place: place + 1,
                };
                let mark = place > 0 && of.code.is_mark(place - 1);
                let end_s = of.start_s + (place + 1) as f64 * self.element_s;
                Stretch {
                    tone: if mark { Tone::Mark } else { Tone::Space },
                    end_s,
                }
            }
            Stage::Over => Stretch {
                tone: Tone::Off,
                end_s: f64::INFINITY,
            },
        })
    }
}

/// The stretches of a sender with jitter and bias; without end, the last one is silence.
#[derive(Clone, Debug)]
pub(crate) struct Keying {
    // Configured.
    jitter_s: f64,
    early_mark_s: f64,
    // State.
    elements: Peekable<Elements>,
    random: Random,
    last_end_s: f64,
}

impl Keying {
    pub(crate) fn new(sender: &Sender, times: Times, seed: u64, index: usize) -> Self {
        Self {
            jitter_s: sender.jitter_ms / 1e3,
            early_mark_s: sender.bias_percent / 100.0 * sender.speed.element_s(),
            elements: Elements::new(sender, times, seed, index).peekable(),
            random: random(seed, Part::Keying, index),
            last_end_s: 0.0,
        }
    }

    /// How far the edge between two tones is moved, s.
    fn moved_s(&mut self, from: Tone, to: Tone) -> f64 {
        match (from, to) {
            // Start-stop timing counts from the edge into the start element, so bias moves
            // only the edges into mark.
            (Tone::Space, Tone::Mark) => {
                self.jitter_s * normal(&mut self.random) - self.early_mark_s
            }
            (Tone::Mark, Tone::Space) => self.jitter_s * normal(&mut self.random),
            _ => 0.0,
        }
    }

    /// The next stretch.
    pub(crate) fn next(&mut self) -> Stretch {
        const SILENCE: Stretch = Stretch {
            tone: Tone::Off,
            end_s: f64::INFINITY,
        };
        let element = self.elements.next().unwrap_or(SILENCE);
        let after = self.elements.peek().copied().unwrap_or(SILENCE);
        let moved = element.end_s + self.moved_s(element.tone, after.tone);
        // Edges keep their order however much they jitter.
        self.last_end_s = moved.max(self.last_end_s);
        Stretch {
            tone: element.tone,
            end_s: self.last_end_s,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::Code;

    fn stretches(sender: &Sender) -> Vec<Stretch> {
        let times = Times {
            text_until_s: 0.0,
            end_s: 10.0,
        };
        let mut keying = Keying::new(sender, times, 1, 0);
        let mut all = vec![keying.next()];
        while all[all.len() - 1].end_s.is_finite() {
            all.push(keying.next());
        }
        all
    }

    fn sender(values: &[u8]) -> Sender {
        Sender {
            codes: values.iter().filter_map(|&v| Code::new(v)).collect(),
            begin_s: 1.0,
            lead_in_s: 1.0,
            ..Sender::default()
        }
    }

    /// Worked example W12: R is 01010 with a double space in front, Y is 10101 with a
    /// double mark at its end.
    #[test]
    fn ry_on_the_line() {
        let sender = sender(&[10, 21]);
        let line: String = stretches(&sender)
            .iter()
            .map(|s| match s.tone {
                Tone::Off => '.',
                Tone::Mark => '1',
                Tone::Space => '0',
            })
            .collect();
        let (silence, lead_in, r, y) = (".", "1", "0010101", "0101011");
        assert_eq!(line, format!("{silence}{lead_in}{r}{y}{silence}"));
    }

    #[test]
    fn ideal_edges_lie_on_whole_elements() {
        let sender = sender(&[10, 21]);
        let element_s = sender.speed.element_s();
        let all = stretches(&sender);
        assert_eq!(all[0].end_s, 1.0);
        assert_eq!(all[1].end_s, 2.0);
        for k in 0..6 {
            assert!((all[2 + k].end_s - (2.0 + (k + 1) as f64 * element_s)).abs() < 1e-12);
        }
        assert!((all[8].end_s - (2.0 + sender.speed.character_s())).abs() < 1e-12);
        assert_eq!(all[15].end_s, 10.0);
    }

    #[test]
    fn bias_lengthens_mark_and_leaves_start_edges() {
        let ideal = stretches(&sender(&[10; 20]));
        let biased = stretches(&Sender {
            bias_percent: 20.0,
            ..sender(&[10; 20])
        });
        for k in 1..ideal.len() - 1 {
            let moved = biased[k].end_s - ideal[k].end_s;
            let into_mark = ideal[k].tone == Tone::Space && ideal[k + 1].tone == Tone::Mark;
            let expected = if into_mark { -0.2 * 0.022 } else { 0.0 };
            assert!((moved - expected).abs() < 1e-9, "edge {k} moved by {moved}");
        }
    }

    #[test]
    fn jitter_has_its_rms_on_transitions_only_and_keeps_the_order() {
        let codes = vec![10; 600];
        let ideal = stretches(&sender(&codes));
        let late = stretches(&Sender {
            jitter_ms: 1.0,
            ..sender(&codes)
        });
        let (mut sum, mut count) = (0.0, 0);
        for k in 1..ideal.len() - 2 {
            let moved = late[k].end_s - ideal[k].end_s;
            if ideal[k].tone == ideal[k + 1].tone {
                assert_eq!(moved, 0.0);
            } else {
                (sum, count) = (sum + moved * moved, count + 1);
            }
        }
        let rms_ms = (sum / f64::from(count)).sqrt() * 1e3;
        // 3 sigma of an rms estimate is 3 / sqrt(2 n), 4 % for 3000 edges.
        assert!(
            (rms_ms - 1.0).abs() < 0.04,
            "{rms_ms} ms from {count} edges"
        );
        let wild = stretches(&Sender {
            jitter_ms: 20.0,
            ..sender(&codes)
        });
        assert!(wild.windows(2).all(|w| w[0].end_s <= w[1].end_s));
    }
}
