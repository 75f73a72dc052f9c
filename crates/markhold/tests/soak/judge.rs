//! What is on the shelf, against what was sent and what was told to be missing.

use super::evening::{Evening, RATE, sixteen_bits};
use super::lives::Ended;
use super::spans::Spans;
use jiff::SignedDuration;
use markhold_code::Code;
use markhold_event::Event;
use markhold_shelf::{GapCause, KeptEvening, Shelf};
use markhold_sound::{ReadOptions, SoundReader};

/// Samples by which the end of a gap may be off: times are kept to a millisecond.
const ROUNDED: u64 = RATE as u64 / 500;

/// A begin is rounded to a millisecond, by the clock as by the evening.
const SAME_BEGIN: SignedDuration = SignedDuration::from_millis(2);

/// A character's place is known to this, s: half an element at 45 baud.
const SAME_S: f64 = 0.011;

/// Copy this close to missing sound may suffer from it, s: the receiver has to find the signal
/// again where it is on the air just then.
const NEAR_S: f64 = 4.0;

/// What was found.
#[derive(Debug, Default)]
pub struct Verdict {
    pub evenings: usize,
    /// Samples sent to the program, kept by it, lost before it could have them.
    pub sent: u64,
    pub kept: u64,
    pub lost_before: u64,
    /// Kept ones unlike what was sent.
    pub unlike: u64,
    /// Missing though the program had them, and told.
    pub told: u64,
    /// Missing and not told.
    pub untold: u64,
    /// Told to be missing though they are there.
    pub told_though_kept: u64,
    /// The most that a kill cost at the end, samples.
    pub most_killed: u64,
    /// Characters sent that could be heard; of them near missing sound, and not near it, those
    /// not copied; copied ones that nobody sent, near it and not near it.
    pub characters: usize,
    pub not_copied_near: usize,
    pub not_copied: usize,
    pub not_sent_near: usize,
    pub not_sent: usize,
    /// Left by the last start to be copied again by the next: its reading says so.
    pub left: usize,
    /// Steps of the clock, and evenings in which their sum is not noted.
    pub steps: usize,
    pub steps_wrong: usize,
    /// Joined after a crash.
    pub joined: usize,
    pub gaps: usize,
    /// What is wrong, in words.
    pub wrong: Vec<String>,
}

impl Verdict {
    /// Looks at all lives on the shelf.
    pub fn of(shelf: &Shelf, evening: &Evening, lives: &[Ended]) -> Verdict {
        let mut verdict = Verdict::default();
        let checked = shelf.check().expect("checked");
        if !checked.is_well() {
            verdict.wrong.push(format!("the check: {checked:?}"));
        }
        let all = shelf.evenings(None, None, usize::MAX).expect("evenings");
        verdict.evenings = all.len();
        let mut left: Vec<&KeptEvening> = all.iter().collect();
        for (number, life) in lives.iter().enumerate() {
            let begin = life.life.begin();
            let off = |kept: &KeptEvening| kept.begin.timestamp().duration_since(begin).abs();
            let is = |kept: &&KeptEvening| off(kept) <= SAME_BEGIN;
            match left.iter().position(is) {
                Some(place) => {
                    let kept = left.remove(place);
                    Looking {
                        shelf,
                        evening,
                        life,
                        kept,
                        number,
                        last: number + 1 == lives.len(),
                    }
                    .judge(&mut verdict);
                }
                None => {
                    verdict.sent += life.handed;
                    verdict.untold += life.handed;
                    let found = format!("life {number} from {begin} is not on the shelf");
                    verdict.wrong.push(found);
                }
            }
        }
        for kept in left {
            let found = format!("evening {} of {} is nobody's", kept.id, kept.begin);
            verdict.wrong.push(found);
        }
        verdict
    }
}

struct Looking<'a> {
    shelf: &'a Shelf,
    evening: &'a Evening,
    life: &'a Ended,
    kept: &'a KeptEvening,
    number: usize,
    last: bool,
}

impl Looking<'_> {
    fn judge(&self, verdict: &mut Verdict) {
        let all = Spans::of([(0, self.life.handed)]);
        let lost = Spans::of(self.life.missing());
        let kept = self.sound(&lost, verdict);
        let (told, open) = self.told();
        verdict.gaps += self.kept.gaps.len();
        verdict.sent += self.life.handed;
        verdict.lost_before += lost.len();
        verdict.kept += kept.len();
        let missing = all.minus(&kept);
        verdict.told += missing.common(&told).minus(&lost).len();
        self.untold(&missing.minus(&told), open, verdict);
        let kept_and_told = told.common(&kept);
        let long = kept_and_told.all().iter().filter(|(a, b)| b - a > ROUNDED);
        verdict.told_though_kept += long.map(|(a, b)| b - a).sum::<u64>();
        self.clock(verdict);
        self.copy(&missing, verdict);
    }

    /// What is kept as it was sent. Silence in the place of what the cable lost is none of it.
    fn sound(&self, lost: &Spans, verdict: &mut Verdict) -> Spans {
        let mut kept = Vec::new();
        for (segment, path) in self.shelf.sound(self.kept.id).expect("files") {
            let begin = (segment.begin_s * f64::from(RATE)).round() as u64;
            let samples = samples(&path);
            if samples.len() as u64 != segment.samples {
                let found = format!("{segment:?} has {} samples", samples.len());
                verdict.wrong.push(found);
            }
            let silence = |at: u64| lost.near(at, 0);
            let place = self.life.life.from + begin;
            let unlike = (0..).zip(&samples).filter(|(k, sample)| {
                **sample != self.evening.at(place + k) && !silence(begin + k)
            });
            // Silence may also stand for what the disk did not take; that is told, or untold.
            let unlike: Vec<u64> = unlike.map(|(k, _)| begin + k).collect();
            let not_there = Spans::of(unlike.iter().map(|at| (*at, at + 1)));
            verdict.unlike += not_there.len();
            if let Some(first) = unlike.first() {
                verdict.wrong.push(format!(
                    "life {}: {} samples unlike what was sent, from {first} on, {}",
                    self.number,
                    unlike.len(),
                    path.display()
                ));
            }
            let all = Spans::of([(begin, begin + samples.len() as u64)]);
            kept.extend(all.minus(&not_there).minus(lost).all());
        }
        Spans::of(kept)
    }

    /// What is told to be missing, and from where on something is of which nobody knows the
    /// length.
    fn told(&self) -> (Spans, Option<u64>) {
        let place = |at_s: f64| (at_s * f64::from(RATE)).round() as u64;
        let span = |begin_s: f64, length_s: f64| {
            let from = place(begin_s).saturating_sub(ROUNDED);
            (from, place(begin_s + length_s) + ROUNDED)
        };
        let gaps = &self.kept.gaps;
        let known = gaps
            .iter()
            .filter_map(|g| Some(span(g.begin_s, g.length_s?)));
        let open = gaps
            .iter()
            .filter(|g| g.length_s.is_none() && g.cause == GapCause::Stopped)
            .map(|g| place(g.begin_s).saturating_sub(ROUNDED));
        (Spans::of(known), open.min())
    }

    fn untold(&self, untold: &Spans, open: Option<u64>, verdict: &mut Verdict) {
        let end = open.unwrap_or(u64::MAX);
        let tail = untold.common(&Spans::of([(end, u64::MAX)]));
        verdict.most_killed = verdict.most_killed.max(tail.len());
        if self.life.killed == open.is_none() && self.life.handed > 0 {
            let found = format!(
                "life {}: killed {}, told so {}",
                self.number,
                self.life.killed,
                open.is_some()
            );
            verdict.wrong.push(found);
        }
        for (from, until) in untold.minus(&tail).all() {
            if until - from <= ROUNDED {
                continue;
            }
            verdict.untold += until - from;
            verdict.wrong.push(format!(
                "life {} (evening {}): samples {from} to {until} of {} are missing and not told; \
                 gaps {:?}",
                self.number, self.kept.id, self.life.handed, self.kept.gaps
            ));
        }
    }

    fn clock(&self, verdict: &mut Verdict) {
        let (sum_s, steps) = self.life.clock_s();
        verdict.steps += steps;
        let noted_s: f64 = self.kept.clock_steps.iter().map(|step| step.by_s).sum();
        // Of a life that was killed the last may not have been seen.
        if (sum_s - noted_s).abs() > 1.0 && !self.life.killed {
            verdict.steps_wrong += 1;
            verdict.wrong.push(format!(
                "life {}: the clock was put forward by {sum_s} s, noted are {noted_s} s",
                self.number
            ));
        }
    }

    fn copy(&self, missing: &Spans, verdict: &mut Verdict) {
        let Some(best) = self.kept.best_reading() else {
            verdict
                .wrong
                .push(format!("life {} has no reading", self.number));
            return;
        };
        verdict.joined += usize::from(!best.live);
        let mut copied: Vec<(f64, Code, bool)> = Vec::new();
        let take = &mut |event: Event| {
            if let Event::Character(c) = event {
                copied.push((c.start_s, c.code, false));
            }
        };
        self.shelf.events(best.id, take).expect("events");
        copied.sort_by(|a, b| a.0.total_cmp(&b.0));
        let rate = f64::from(RATE);
        let begin_s = self.life.life.from as f64 / rate;
        let heard_s = self.life.handed as f64 / rate;
        // A character that one receiver began to hear and another one ended is neither's.
        let inputs = self.life.inputs();
        let inputs = Spans::of(inputs.into_iter().map(|at| (at, at + 1)));
        let left_s = match best.live && self.last {
            true => best.copied_s,
            false => f64::INFINITY,
        };
        let near = |spans: &Spans, at_s: f64, distance_s: f64| {
            spans.near((at_s * rate) as u64, (distance_s * rate) as u64)
        };
        let suffers = |at_s: f64| {
            at_s < NEAR_S
                || at_s > heard_s - NEAR_S
                || near(missing, at_s, NEAR_S)
                || near(&inputs, at_s, NEAR_S)
        };
        let mut lacking = Vec::new();
        for (at_s, code) in self.evening.sent(begin_s, begin_s + heard_s) {
            let at_s = at_s - begin_s;
            let found = copied
                .iter_mut()
                .skip_while(|c| c.0 < at_s - SAME_S)
                .take_while(|c| c.0 <= at_s + SAME_S)
                .find(|c| c.1 == code);
            match found {
                Some(character) => character.2 = true,
                // It was never heard.
                None if near(missing, at_s, 0.17) => continue,
                None if at_s > left_s => verdict.left += 1,
                None if suffers(at_s) => verdict.not_copied_near += 1,
                None => lacking.push(at_s),
            }
            verdict.characters += 1;
        }
        verdict.not_copied += lacking.len();
        let invented = copied.iter().filter(|c| !c.2).map(|c| c.0);
        let (beside, invented): (Vec<f64>, Vec<f64>) = invented.partition(|at_s| suffers(*at_s));
        verdict.not_sent_near += beside.len();
        verdict.not_sent += invented.len();
        for (places, what) in [(lacking, "not copied"), (invented, "copied and not sent")] {
            if places.is_empty() {
                continue;
            }
            verdict.wrong.push(format!(
                "life {} (evening {}, {heard_s:.0} s, killed {}): {} characters {what}, at {places:.1?} s; \
                 reading {best:?}; inputs {inputs:?}; gaps {:?}",
                self.number,
                self.kept.id,
                self.life.killed,
                places.len(),
                self.kept.gaps
            ));
        }
    }
}

fn samples(path: &std::path::Path) -> Vec<i16> {
    let Ok(mut sound) = SoundReader::open(path, &ReadOptions::default()) else {
        return Vec::new();
    };
    let (mut all, mut block) = (Vec::new(), vec![0.0; 8192]);
    while let Ok(count) = sound.read(&mut block) {
        if count == 0 {
            break;
        }
        all.extend(block[..count].iter().map(|s| sixteen_bits(*s)));
    }
    all
}
