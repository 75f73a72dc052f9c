//! What came of a comparison, for a person and for a script.

use super::judge::{Difference, Judged, Kind, Ours};
use super::published::Theirs;
use crate::copy::marker::{Marker, Marking, Marks};
use crate::shelf::when::Zone;
use markhold_event::{VERSION, rounded};
use markhold_shelf::joined::KeptCopy;
use markhold_shelf::{KeptEvening, RECEIVER};
use serde::Serialize;
use std::ops::Range;

/// Steps of a word shown on either side of a difference.
const WORD: usize = 16;
/// Bounds of what was told.
const BOUNDS: [f32; 7] = [0.0, 0.5, 0.8, 0.9, 0.95, 0.99, 1.01];

/// Both, ready to be told.
pub struct Compared<'a> {
    pub copy: &'a KeptCopy,
    pub evening: &'a KeptEvening,
    pub ours: &'a [Ours],
    pub theirs: &'a [Theirs],
    pub judged: &'a Judged,
    /// Energy of an element over noise density, dB, if that was measured.
    pub es_n0_db: Option<f64>,
}

/// One line of the table of probabilities.
#[derive(Serialize)]
pub struct Told {
    pub from: f64,
    pub until: f64,
    pub characters: usize,
    /// Mean of what was told, and share that came true.
    pub told: f64,
    pub came_true: f64,
}

#[derive(Serialize)]
#[serde(tag = "type", rename_all = "kebab-case")]
pub enum Object<'a> {
    Difference {
        version: u32,
        /// When ours was heard.
        heard: String,
        kind: &'static str,
        ours: String,
        /// The same with what is doubtful between [ and ].
        marked: String,
        text: String,
    },
    Comparison {
        version: u32,
        evening: i64,
        signal: u32,
        /// Characters of the text that could have been heard, but for those that differ.
        heard: usize,
        /// Share of them that is wrong, missing or too many.
        wrong: f64,
        wrong_marked: usize,
        wrong_unmarked: usize,
        text_differs: usize,
        told: Vec<Told>,
        result: &'a str,
    },
}

impl Compared<'_> {
    fn word_around(&self, difference: &Difference) -> Range<usize> {
        let parts = |at: usize| {
            let step = &self.judged.steps[at];
            let ours = step.ours.is_none_or(|k| self.ours[k].glyph == ' ');
            ours && step.theirs.is_none_or(|k| self.theirs[k].glyph == ' ')
        };
        // A new stretch begins where neither goes on.
        let Range { start, end } = difference.steps.clone();
        let before = (0..start)
            .rev()
            .take(WORD)
            .take_while(|at| !parts(*at))
            .count();
        let after = (end..self.judged.steps.len())
            .take(WORD)
            .take_while(|at| !parts(*at))
            .count();
        start - before..end + after
    }

    fn ours_in(&self, steps: Range<usize>, marker: Marker) -> String {
        let mut marking = Marking::new(marker);
        let mut text = String::new();
        for ours in self.judged.steps[steps].iter().filter_map(|s| s.ours) {
            let (doubtful, changed) = (self.ours[ours].doubtful, false);
            marking.push(
                &mut text,
                self.ours[ours].glyph,
                Marks { doubtful, changed },
            );
        }
        marking.close(&mut text);
        text
    }

    fn theirs_in(&self, steps: Range<usize>) -> String {
        let theirs = self.judged.steps[steps].iter().filter_map(|s| s.theirs);
        theirs.map(|k| self.theirs[k].glyph).collect()
    }

    fn heard_s(&self, difference: &Difference) -> f64 {
        let of = |s: &super::judge::Step| s.ours.map(|k| self.ours[k].start_s);
        let after = self.judged.steps[difference.steps.start..]
            .iter()
            .find_map(of);
        after.unwrap_or(0.0)
    }

    /// `19:30:12  wrong, marked    PA[I]ER | PAPER`.
    pub fn line(&self, difference: &Difference, marker: Marker, zone: &Zone) -> String {
        let word = self.word_around(difference);
        let kind = match difference.kind {
            Kind::Marked => "wrong, marked    ",
            Kind::Unmarked => "wrong, not marked",
            Kind::Differs => "the text differs ",
        };
        let clock = zone.clock(&self.evening.time(self.heard_s(difference)));
        let (ours, text) = (self.ours_in(word.clone(), marker), self.theirs_in(word));
        format!("{clock}  {kind}  {ours} | {text}")
    }

    pub fn object(&self, difference: &Difference) -> Object<'static> {
        let word = self.word_around(difference);
        Object::Difference {
            version: VERSION,
            heard: self
                .evening
                .time(self.heard_s(difference))
                .timestamp()
                .to_string(),
            kind: difference.kind.word(),
            ours: self.ours_in(word.clone(), Marker::None),
            marked: self.ours_in(word.clone(), Marker::Brackets),
            text: self.theirs_in(word),
        }
    }

    pub fn sum<'a>(&self, result: &'a str) -> Object<'a> {
        Object::Comparison {
            version: VERSION,
            evening: self.copy.evening,
            signal: self.copy.signal,
            heard: self.judged.heard,
            wrong: rounded(self.judged.wrong(), 5),
            wrong_marked: self.judged.marked,
            wrong_unmarked: self.judged.unmarked,
            text_differs: self.judged.differs,
            told: self.told(),
            result,
        }
    }

    /// `2.1 % of 1402 characters are wrong: 1.6 % marked, 0.5 % not`.
    pub fn figure(&self) -> String {
        let judged = self.judged;
        let share = |n: usize| 100.0 * n as f64 / judged.heard.max(1) as f64;
        let differs = match judged.differs {
            0 => String::new(),
            n => format!("; the text differs from what was sent in {n} more"),
        };
        format!(
            "{:.1} % of {} characters are wrong: {:.1} % marked, {:.1} % not{differs}",
            100.0 * judged.wrong(),
            judged.heard,
            share(judged.marked),
            share(judged.unmarked)
        )
    }

    /// Whether probabilities came true.
    pub fn told(&self) -> Vec<Told> {
        let row = |bounds: &[f32]| {
            let within = |t: &&(f32, bool)| (bounds[0]..bounds[1]).contains(&t.0);
            let all: Vec<&(f32, bool)> = self.judged.told.iter().filter(within).collect();
            let count = all.len().max(1) as f64;
            let told: f64 = all.iter().map(|t| f64::from(t.0)).sum();
            Told {
                from: rounded(f64::from(bounds[0]), 2),
                until: rounded(f64::from(bounds[1].min(1.0)), 2),
                characters: all.len(),
                told: rounded(told / count, 3),
                came_true: rounded(all.iter().filter(|t| t.1).count() as f64 / count, 3),
            }
        };
        let rows = BOUNDS.windows(2).map(row);
        rows.filter(|r| r.characters > 0).collect()
    }

    /// One line without station, place, date or words, for whoever collects such results.
    pub fn result(&self) -> String {
        let told = self.told();
        let bins: Vec<String> = told
            .iter()
            .map(|t| {
                format!(
                    "{:.2}:{}:{:.3}:{:.3}",
                    t.from, t.characters, t.told, t.came_true
                )
            })
            .collect();
        let es_n0 = self
            .es_n0_db
            .map_or("-".to_string(), |db| format!("{db:.0}"));
        format!(
            "{} es-n0={es_n0} characters={} wrong-marked={} wrong-unmarked={} text-differs={} told={}",
            RECEIVER.replace(' ', "-"),
            self.judged.heard,
            self.judged.marked,
            self.judged.unmarked,
            self.judged.differs,
            bins.join(",")
        )
    }
}
