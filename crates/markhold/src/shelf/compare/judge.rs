//! What is right of a copy, what is wrong, and who is to blame.
//!
//! ```text
//! marked      ours is wrong, and is shown as doubtful
//! unmarked    ours is wrong, and is shown as sure
//! differs     the text is not what was sent: ours is sure of several characters on end, or
//!             goes on without a pause in which anything could have been lost
//! ```

use super::published::Theirs;
use std::ops::Range;

/// So many characters on end, all of them sure, are not read wrongly.
const MANY: usize = 3;
/// Right characters that two errors beside each other may have between them.
const BETWEEN: usize = 1;
/// A gap is long enough for what may have been lost in it from this share of its time on.
const ROOM: f64 = 0.5;

/// A character of ours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ours {
    pub glyph: char,
    pub probability: f32,
    pub doubtful: bool,
    pub start_s: f64,
}

/// One step along both.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    pub ours: Option<usize>,
    pub theirs: Option<usize>,
}

/// What kind of difference it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Marked,
    Unmarked,
    Differs,
}

impl Kind {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Kind::Marked => "wrong-marked",
            Kind::Unmarked => "wrong-unmarked",
            Kind::Differs => "text-differs",
        }
    }
}

/// A difference: steps that follow each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Difference {
    pub steps: Range<usize>,
    pub kind: Kind,
}

/// Both, and where they differ.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Judged {
    pub steps: Vec<Step>,
    pub differences: Vec<Difference>,
    /// Characters of the text that were heard or could have been, but for those that differ.
    pub heard: usize,
    pub marked: usize,
    pub unmarked: usize,
    /// Characters where the text differs.
    pub differs: usize,
    /// Of each character of ours, but where the text differs: what was told, and whether it came
    /// true.
    pub told: Vec<(f32, bool)>,
}

impl Judged {
    /// Share of the characters heard that are wrong, missing or too many.
    pub fn wrong(&self) -> f64 {
        (self.marked + self.unmarked) as f64 / self.heard.max(1) as f64
    }
}

/// Judges a copy by the stretches in which it goes with the text.
pub fn judge(ours: &[Ours], theirs: &[Theirs], stretches: &[Vec<(usize, usize)>]) -> Judged {
    let mut judged = Judged::default();
    for stretch in stretches {
        let begin = judged.steps.len();
        judged.steps.extend(steps(stretch));
        let bench = Bench {
            ours,
            theirs,
            steps: &judged.steps,
        };
        let found: Vec<Difference> = bench.differences(begin);
        let mut at = begin;
        let mut sums = Sums::default();
        for difference in &found {
            sums.right(&bench, at..difference.steps.start);
            sums.different(&bench, difference);
            at = difference.steps.end;
        }
        sums.right(&bench, at..judged.steps.len());
        judged.heard += sums.heard;
        judged.marked += sums.marked;
        judged.unmarked += sums.unmarked;
        judged.differs += sums.differs;
        judged.told.extend(sums.told);
        judged.differences.extend(found);
    }
    judged
}

/// Pairs with what stands between them.
fn steps(pairs: &[(usize, usize)]) -> Vec<Step> {
    let mut steps = Vec::new();
    let mut next: Option<(usize, usize)> = None;
    for (ours, theirs) in pairs.iter().copied() {
        let (from, to) = next.unwrap_or((ours, theirs));
        let extra = (from..ours).map(|k| (Some(k), None));
        let missing = (to..theirs).map(|k| (None, Some(k)));
        let all = extra.chain(missing).chain([(Some(ours), Some(theirs))]);
        steps.extend(all.map(|(ours, theirs)| Step { ours, theirs }));
        next = Some((ours + 1, theirs + 1));
    }
    steps
}

#[derive(Default)]
struct Sums {
    heard: usize,
    marked: usize,
    unmarked: usize,
    differs: usize,
    told: Vec<(f32, bool)>,
}

impl Sums {
    fn right(&mut self, bench: &Bench, steps: Range<usize>) {
        self.heard += steps.len();
        self.told(bench, steps);
    }

    fn different(&mut self, bench: &Bench, difference: &Difference) {
        let steps = difference.steps.clone();
        if difference.kind == Kind::Differs {
            self.differs += steps.len();
            return;
        }
        let theirs = |at: &usize| bench.steps[*at].theirs.is_some();
        self.heard += steps.clone().filter(theirs).count();
        for at in steps.clone().filter(|at| !bench.is_right(*at)) {
            match bench.is_marked(at) {
                true => self.marked += 1,
                false => self.unmarked += 1,
            }
        }
        self.told(bench, steps);
    }

    fn told(&mut self, bench: &Bench, steps: Range<usize>) {
        for at in steps {
            if let Some(ours) = bench.steps[at].ours {
                self.told
                    .push((bench.ours[ours].probability, bench.is_right(at)));
            }
        }
    }
}

struct Bench<'a> {
    ours: &'a [Ours],
    theirs: &'a [Theirs],
    steps: &'a [Step],
}

impl Bench<'_> {
    fn is_right(&self, at: usize) -> bool {
        match (self.steps[at].ours, self.steps[at].theirs) {
            (Some(ours), Some(theirs)) => self.ours[ours].glyph == self.theirs[theirs].glyph,
            _ => false,
        }
    }

    /// Whether the reader is warned: of what is missing by what stands beside it.
    fn is_marked(&self, at: usize) -> bool {
        let doubtful = |step: &Step| step.ours.is_some_and(|k| self.ours[k].doubtful);
        if self.steps[at].ours.is_some() {
            return doubtful(&self.steps[at]);
        }
        let there = |s: &&Step| s.ours.is_some();
        let before = self.steps[..at].iter().rev().find(there);
        let after = self.steps[at..].iter().find(there);
        before.into_iter().chain(after).any(doubtful)
    }

    fn differences(&self, begin: usize) -> Vec<Difference> {
        let mut found: Vec<Range<usize>> = Vec::new();
        for at in (begin..self.steps.len()).filter(|at| !self.is_right(*at)) {
            match found.last_mut() {
                Some(last) if at - last.end <= BETWEEN => last.end = at + 1,
                _ => found.push(at..at + 1),
            }
        }
        let difference = |steps: Range<usize>| Difference {
            kind: self.kind(&steps),
            steps,
        };
        found.into_iter().map(difference).collect()
    }

    fn kind(&self, steps: &Range<usize>) -> Kind {
        let wrong: Vec<usize> = steps.clone().filter(|at| !self.is_right(*at)).collect();
        let ours = wrong.iter().filter(|at| self.steps[**at].ours.is_some());
        let (marked, sure): (Vec<&usize>, Vec<&usize>) = ours.partition(|at| self.is_marked(**at));
        let missing = wrong.len() - marked.len() - sure.len();
        let many = sure.len() >= MANY && sure.len() > 2 * marked.len();
        if many || missing >= MANY && marked.is_empty() && !self.has_room(steps) {
            return Kind::Differs;
        }
        match wrong.iter().any(|at| self.is_marked(*at)) {
            true => Kind::Marked,
            false => Kind::Unmarked,
        }
    }

    /// Whether there was time for what is missing.
    fn has_room(&self, steps: &Range<usize>) -> bool {
        let time = |s: &Step| s.ours.map(|k| self.ours[k].start_s);
        let before = self.steps[..steps.start].iter().rev().find_map(time);
        let after = self.steps[steps.end..].iter().find_map(time);
        let (Some(before), Some(after)) = (before, after) else {
            return true;
        };
        let own = self.steps[steps.clone()]
            .iter()
            .filter(|s| s.ours.is_some())
            .count();
        let missing = steps.len() - own;
        let each_s = self.character_s();
        after - before - (own + 1) as f64 * each_s > ROOM * missing as f64 * each_s
    }

    /// How long a character takes: the median of what lies between two.
    fn character_s(&self) -> f64 {
        let mut all: Vec<f64> = self
            .ours
            .windows(2)
            .map(|w| w[1].start_s - w[0].start_s)
            .collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied().unwrap_or(0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::super::published::published;
    use super::*;
    use markhold_code::FiguresRow;

    /// One before a `?` is doubtful; a `_` is a pause of one character.
    fn ours(text: &str) -> Vec<Ours> {
        let mut all: Vec<Ours> = Vec::new();
        let mut time = 0.0;
        for glyph in text.chars() {
            match glyph {
                '?' => all.last_mut().unwrap().doubtful = true,
                '_' => time += 0.16,
                glyph => {
                    let (probability, doubtful, start_s) = (0.9, false, time);
                    all.push(Ours {
                        glyph,
                        probability,
                        doubtful,
                        start_s,
                    });
                    time += 0.16;
                }
            }
        }
        all
    }

    fn judged(copy: &str, text: &str, pairs: Vec<(usize, usize)>) -> Judged {
        judge(&ours(copy), &published(text, FiguresRow::Ita2), &[pairs])
    }

    fn kinds(judged: &Judged) -> Vec<Kind> {
        judged.differences.iter().map(|d| d.kind).collect()
    }

    #[test]
    fn errors_are_marked_or_not() {
        let all = (0..9).map(|k| (k, k)).collect();
        let judged = judged("THX? MARXH", "THE MARSH", all);
        assert_eq!(kinds(&judged), [Kind::Marked, Kind::Unmarked]);
        assert_eq!((judged.heard, judged.marked, judged.unmarked), (9, 1, 1));
        assert!((judged.wrong() - 2.0 / 9.0).abs() < 1e-9);
        assert_eq!(judged.told.iter().filter(|t| t.1).count(), 7);
    }

    #[test]
    fn where_ours_is_sure_of_several_the_text_differs() {
        let all = (0..11).map(|k| (k, k)).collect();
        let judged = judged("AT 1945 UTC", "AT 2030 UTC", all);
        assert_eq!(kinds(&judged), [Kind::Differs]);
        assert_eq!((judged.differs, judged.heard, judged.wrong()), (4, 7, 0.0));
    }

    #[test]
    fn what_is_missing_was_lost_only_where_there_was_time_for_it() {
        let pairs: Vec<(usize, usize)> = vec![(0, 0), (1, 1), (2, 2), (3, 7), (4, 8), (5, 9)];
        let lost = judged(
            "THE____ NET",
            "THE CLUB NET",
            vec![(0, 0), (1, 1), (2, 2), (3, 8), (4, 9), (5, 10), (6, 11)],
        );
        assert_eq!(kinds(&lost), [Kind::Unmarked]);
        assert_eq!(lost.unmarked, 5);
        let never = judged("THENET", "THEXXXXNET", pairs);
        assert_eq!(kinds(&never), [Kind::Differs]);
    }
}
