//! The sum of all reports so far, enough to draw a page.

use crate::instruments::{Counts, Instruments, Row};
use crate::practice::Turned;
use crate::report::{Anchor, Followed, InputReport, PaperState, Report, Room};
use crate::settings::InUse;
use crate::tuning::{Tone, Tuning};
use markhold_event::{Character, Event, SentLine, Signal};
use markhold_shelf::KeepState;
use serde::Serialize;
use std::collections::VecDeque;

/// Characters kept for a page that is loaded later: an hour of continuous sending at
/// 45.45 baud is 22 000.
const SHEET: usize = 25_000;
/// Characters of [`Snapshot::latest`] at most: ten minutes of continuous sending.
const LATEST: usize = 4_000;
/// First readings kept: some seconds of several signals.
const EARLY: usize = 1000;
/// Points of drift kept, one in [`DRIFT_EVERY_S`]: two hours.
const DRIFT: usize = 3600;
/// Time between two points of drift, s.
const DRIFT_EVERY_S: f64 = 2.0;
/// Rows of the passband picture kept: twelve seconds.
const ROWS: usize = 300;
/// Input reports kept.
const INPUTS: usize = 200;
/// Lines sent from here: as many as there are in an hour of it.
const SENT: usize = 400;
/// Signals that have ended, kept for their names and numbers.
const ENDED: usize = 200;

/// Where a signal was.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct FollowedPoint {
    /// Live time, s.
    pub at_s: f64,
    /// The signal.
    pub signal: u32,
    /// Mark, Hz.
    pub mark_hz: f64,
    /// Space, Hz.
    pub space_hz: f64,
    /// Energy of an element over noise density, dB.
    pub es_n0_db: f64,
    /// Mean probability of the latest characters, 0 to 1.
    pub quality: Option<f32>,
}

/// The sum of all reports so far. Parts that grow are bounded; the oldest go first.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Snapshot {
    /// Up to where the sound is taken in, live time, s.
    pub until_s: f64,
    /// The source listened to.
    pub name: String,
    /// Its rate, Hz.
    pub rate: u32,
    /// What the clock showed, at every start and after every gap.
    pub anchors: VecDeque<Anchor>,
    /// What happened to the input.
    pub inputs: VecDeque<InputReport>,
    /// Why there is no sound, while there is none.
    pub gone: Option<String>,
    /// What is set.
    pub in_use: InUse,
    /// How the evening is kept now; `None` where it is not.
    pub keeping: Option<KeepState>,
    /// The number of the evening on the shelf; `None` before it has one.
    pub evening: Option<i64>,
    /// The signals followed now.
    pub followed: Vec<Followed>,
    /// Tones of others than those, by pitch.
    pub around: Vec<Tone>,
    /// Signals that have ended.
    pub ended: VecDeque<Signal>,
    /// Characters so far, in the order they were decided.
    pub sheet: VecDeque<Character>,
    /// What was sent from here, in order.
    pub sent: VecDeque<SentLine>,
    /// First readings of characters that are not decided yet.
    pub early: VecDeque<Character>,
    /// Characters that the sheet no longer holds.
    pub sheet_dropped: u64,
    /// Where the signals were.
    pub drift: VecDeque<FollowedPoint>,
    /// Latest rows of the passband picture.
    pub rows: VecDeque<Row>,
    /// Latest pictures and meters, without rows.
    pub instruments: Instruments,
    /// What to do with the dial.
    pub tuning: Tuning,
    /// Counted things.
    pub counts: Counts,
    /// The room that all this is of.
    pub room: Room,
    /// The input listened to: its id.
    pub input: String,
    /// Where it is kept, in words; `None` when it is not.
    pub kept: Option<String>,
    /// How printing stands.
    pub paper: PaperState,
    /// How the practice receiver stands.
    pub practice: Turned,
}

/// Adds to a bounded queue; returns how many fell out.
fn push<T>(queue: &mut VecDeque<T>, item: T, most: usize) -> u64 {
    queue.push_back(item);
    let over = queue.len().saturating_sub(most);
    queue.drain(..over);
    over as u64
}

impl Snapshot {
    /// All of it, but of the characters only those of the latest `span_s`, and no drift: what is
    /// laid out on a sheet, or drawn as a curve, is told by others. How long that takes, and how
    /// large it is, does not grow with the evening.
    pub fn latest(&mut self, span_s: f64) -> Snapshot {
        // The long parts step aside, so that they are not copied first and thrown away then.
        let (sheet, drift) = (
            std::mem::take(&mut self.sheet),
            std::mem::take(&mut self.drift),
        );
        let mut latest = self.clone();
        (self.sheet, self.drift) = (sheet, drift);
        let since_s = self.until_s - span_s;
        let late = self.sheet.iter().rev();
        let late = late.take_while(|c| c.start_s >= since_s).take(LATEST);
        latest.sheet = late.cloned().collect();
        latest.sheet.make_contiguous().reverse();
        latest.sheet_dropped += (self.sheet.len() - latest.sheet.len()) as u64;
        latest
    }

    /// Takes in a report.
    pub fn take(&mut self, report: &Report) {
        match report {
            Report::Event(event) => self.take_event(event),
            Report::Sent(line) => self.take_sent(line),
            Report::Followed(followed) => self.take_followed(followed),
            Report::Instruments(instruments) => self.take_instruments(instruments),
            Report::Around(tones) => self.around.clone_from(tones),
            Report::Tuning(tuning) => self.tuning = tuning.clone(),
            Report::Input(input) => self.take_input(input),
            Report::Counts(counts) => self.counts = *counts,
            Report::Settings(in_use) => self.in_use = *in_use,
            Report::Keeping(state) => self.keeping = Some(state.clone()),
            Report::Evening(number) => self.evening = Some(*number),
            Report::Chosen(id) => self.input.clone_from(id),
            Report::Paper(state) => self.paper.clone_from(state),
            Report::Practice(stands) => self.practice = *stands,
            // It is asked for when a page begins.
            Report::Answer(_) => {}
            // What the other room holds is in the other room's sum.
            Report::Room(_) => {}
        }
    }

    fn take_event(&mut self, event: &Event) {
        match event {
            Event::Found(_) | Event::Unlikely(_) => {}
            Event::Early(character) => {
                push(&mut self.early, character.clone(), EARLY);
            }
            Event::Character(character) => {
                let decided = |e: &Character| e.signal == character.signal && e.id <= character.id;
                self.early.retain(|e| !decided(e));
                self.sheet_dropped += push(&mut self.sheet, character.clone(), SHEET);
            }
            Event::Ended(signal) => {
                self.followed.retain(|f| f.signal.id != signal.id);
                self.early.retain(|e| e.signal != signal.id);
                push(&mut self.ended, signal.clone(), ENDED);
            }
        }
    }

    fn take_sent(&mut self, line: &SentLine) {
        match self
            .sent
            .iter_mut()
            .rev()
            .find(|known| known.number == line.number)
        {
            Some(known) => known.clone_from(line),
            None => {
                push(&mut self.sent, line.clone(), SENT);
            }
        }
    }

    fn take_followed(&mut self, followed: &[Followed]) {
        self.followed = followed.to_vec();
        for f in followed {
            let id = f.signal.id.0;
            let before = self.drift.iter().rev().find(|p| p.signal == id);
            if before.is_none_or(|p| f.signal.until_s - p.at_s >= DRIFT_EVERY_S) {
                let point = FollowedPoint {
                    at_s: f.signal.until_s,
                    signal: id,
                    mark_hz: f.signal.mark_hz,
                    space_hz: f.signal.space_hz,
                    es_n0_db: f.signal.es_n0_db,
                    quality: f.quality,
                };
                push(&mut self.drift, point, DRIFT);
            }
        }
    }

    fn take_instruments(&mut self, instruments: &Instruments) {
        self.until_s = instruments.until_s;
        for row in &instruments.rows {
            push(&mut self.rows, row.clone(), ROWS);
        }
        self.instruments = instruments.clone();
        self.instruments.rows.clear();
    }

    fn take_input(&mut self, input: &InputReport) {
        match input {
            InputReport::Listening { name, rate, anchor } => {
                self.name.clone_from(name);
                self.rate = *rate;
                self.gone = None;
                push(&mut self.anchors, *anchor, INPUTS);
            }
            InputReport::Back { rate, anchor, .. } => {
                self.rate = *rate;
                self.gone = None;
                push(&mut self.anchors, *anchor, INPUTS);
            }
            InputReport::Gone { why, .. } => self.gone = Some(why.clone()),
            InputReport::Ended { why, .. } => {
                let why = why.clone();
                self.gone = Some(why.unwrap_or_else(|| "the sound has ended".into()));
            }
            _ => {}
        }
        push(&mut self.inputs, input.clone(), INPUTS);
    }
}
