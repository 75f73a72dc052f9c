//! The level of the noise from cell to cell, and what to do with each cell.

use super::cells::Cells;
use super::frames::{Expected, Heard};
use super::history::Reading;
use super::{CELLS_AHEAD, CELLS_PER_STEP, Decision, WARM_UP};

/// Cells ahead and behind that the level is taken from: 0.6 dB of scatter each at 4 kHz.
const SIDE: i64 = 16;
/// Fewest quiet cells that tell a level.
const FEWEST: f32 = 6.0;
/// No cell counts for more than this many times the level: the rest is some click.
const MOST_POWER: f32 = 4.0;
/// A fall by this ratio is an edge, to be followed at once: while the gain stands still, and
/// while it moves anyway.
const EDGES: [f32; 2] = [0.5, 0.63];
/// A fall after a crash by this ratio means that the gain fell when the crash began.
const FALL_AFTER_CRASH: f32 = 0.25;
/// Cells after a crash in which that is looked for.
const AFTER_CRASH: i64 = 60;
/// Share of the way to the level around that is gone in a cell, at least and at most, and
/// the distance, dB, at which it would be one twelfth.
const SHARES: [f32; 2] = [1.0 / 60.0, 1.0 / 6.0];
const SHARE_DB: f32 = 2.0;
/// Fastest rise, dB per cell: 80 dB/s is faster than AGC, and slow beside crashes.
const RISE_DB: f32 = 0.08;
/// What lasts longer than this many cells is no crash but the new level, ...
const LONGEST_CRASH: u32 = 80;
/// ... and approached by so many dB per cell.
const FAST_RISE_DB: f32 = 0.4;
/// After so many cells in which nothing could be told the level goes back to the floor with
/// this time constant, cells: 1 s and 2 s.
const BLIND: u32 = 1000;
const FORGET_CELLS: f32 = 2000.0;
/// Deviations of the level below the first are scatter and left alone, above the second they
/// are taken out whole, dB.
const DEAD_DB: [f32; 2] = [1.0, 4.0];
/// A deviation that shows that the gain moves, dB; small ones are taken out as well then,
/// less and less with this time constant, cells.
const ACTIVE_DB: f32 = 3.0;
const ACTIVE_CELLS: f32 = 4000.0;
/// Most amplification, dB.
const MOST_DB: f32 = 40.0;
/// The floor follows the level with this time constant, cells, but no faster than this, dB
/// per cell: 10 s and 0.5 dB/s.
const PULL_CELLS: f32 = 10_000.0;
const PULL_DB: f32 = 0.0005;
/// At first it follows within half a second, for so many frames.
const FIRST_FRAMES: u32 = 500;
const FIRST_PULL_CELLS: f32 = 400.0;
/// Frames from the end of the warm-up until the floor, whose shape is known by then, is put
/// in its place as a whole, and until the cells have met it there.
const PLACE: u32 = 1;
const BEGIN: u32 = 10;
/// Median of chi squared over its mean at 8 degrees of freedom.
const MEDIAN: f32 = 0.918;
/// A line 30 dB above the noise of a bin is a strong signal.
const STRONG: f32 = 1000.0;
/// What a cell keeps of the memory of such a line: half a second.
const LINE_KEPT: f32 = 0.998;
/// Beside crashes the weight of strong signals moves in this way, a raised cosine over three
/// cells: a hole with sharp edges would spread them over the band.
const TAPER: [f32; 3] = [0.0, 0.25, 0.75];

/// Follows the level of the noise.
pub(super) struct Tracker {
    // state
    cells: Cells,
    /// The latest readings.
    readings: [Reading; 3],
    /// Power of the noise over the floor, as a ratio and in dB.
    level: f32,
    level_db: f32,
    /// Where the level last fell at once, and the last crash.
    edge: i64,
    last_crash: i64,
    /// Cells that the crash has lasted.
    lasted: u32,
    /// Cells since the level could be told.
    blind: u32,
    /// 1 after the gain has moved, falling back to 0.
    active: f32,
    /// Strongest line outside crashes, over the noise of a bin.
    line: f32,
    /// Frames since the warm-up.
    frames: u32,
}

fn to_db(ratio: f32) -> f32 {
    10.0 * ratio.max(1e-30).log10()
}

fn to_ratio(db: f32) -> f32 {
    10f32.powf(db / 10.0)
}

impl Tracker {
    pub(super) fn new() -> Self {
        Self {
            cells: Cells::new(),
            readings: [Reading::default(); 3],
            level: 1.0,
            level_db: 0.0,
            edge: i64::MIN / 2,
            last_crash: i64::MIN / 2,
            lasted: 0,
            blind: 0,
            active: 0.0,
            line: 0.0,
            frames: 0,
        }
    }

    /// What is expected of the next frame.
    pub(super) fn expected(&self) -> Expected {
        Expected {
            level: self.level,
            pull: to_ratio(self.pull_db()),
        }
    }

    /// How far the floor follows the level in the next frame, dB.
    fn pull_db(&self) -> f32 {
        let step = CELLS_PER_STEP as f32;
        match self.frames {
            0 => 0.0,
            PLACE => self.level_db,
            2..FIRST_FRAMES => self.level_db * step / FIRST_PULL_CELLS,
            FIRST_FRAMES.. => step * (self.level_db / PULL_CELLS).clamp(-PULL_DB, PULL_DB),
        }
    }

    fn set_db(&mut self, level_db: f32) {
        (self.level_db, self.level) = (level_db, to_ratio(level_db));
    }

    /// Takes what a step brought and decides the four cells that end [`CELLS_AHEAD`] cells
    /// before the newest.
    pub(super) fn process(&mut self, heard: &Heard) -> [Decision; CELLS_PER_STEP] {
        let pulled = self.pull_db();
        self.set_db(self.level_db - pulled);
        self.readings.rotate_left(1);
        self.readings[2] = heard.reading;
        self.cells.take(heard);
        if heard.learnt < WARM_UP {
            return [Decision::UNTOUCHED; CELLS_PER_STEP];
        }
        if self.frames == PLACE {
            self.cells.rescale(to_ratio(pulled));
        }
        self.frames = self.frames.saturating_add(1);
        if self.frames == PLACE {
            self.set_db(to_db(self.cells.median() / MEDIAN));
        }
        if self.frames < BEGIN {
            return [Decision::UNTOUCHED; CELLS_PER_STEP];
        }
        self.cells.find_crashes(self.level, heard.bins);
        let from = self.cells.end() - (CELLS_AHEAD + CELLS_PER_STEP) as i64;
        self.remember_line(from);
        std::array::from_fn(|k| self.decide(from + k as i64))
    }

    fn remember_line(&mut self, from: i64) {
        self.line *= LINE_KEPT.powi(CELLS_PER_STEP as i32);
        let around = from - SIDE..from + SIDE;
        if around
            .clone()
            .all(|k| self.cells.at(k).sure && !self.cells.at(k).crash)
        {
            self.line = self.line.max(self.cells.at(from).line / self.level);
        }
    }

    fn decide(&mut self, at: i64) -> Decision {
        if self.cells.at(at).crash {
            self.last_crash = at;
            self.lasted += 1;
        } else {
            self.lasted = 0;
        }
        self.follow(at);
        self.active = match self.level_db.abs() > ACTIVE_DB {
            true => 1.0,
            false => self.active * (1.0 - 1.0 / ACTIVE_CELLS),
        };
        self.mark_levelled_crash(at);
        let crash = self.cells.at(at).crash;
        Decision {
            weight: match crash {
                true => [self.weight(at); 2],
                false => [self.boundary(at), self.boundary(at + 1)],
            },
            gain: self.gain(),
            crash,
        }
    }

    /// The AGC brings a crash down to the usual level; it is one all the same, as shows when
    /// the gain is known to be low.
    fn mark_levelled_crash(&mut self, at: i64) {
        let recent = at - self.edge.min(self.last_crash) < AFTER_CRASH;
        if recent && self.cells.at(at).power > 2.0 * MOST_POWER * self.level {
            self.cells.at_mut(at).crash = true;
            self.last_crash = at;
        }
    }

    /// Moves the level on to a cell.
    fn follow(&mut self, at: i64) {
        if at - self.last_crash < AFTER_CRASH && self.fall_after_crash(at) {
            return;
        }
        if self.lasted > LONGEST_CRASH {
            let over = to_db(self.cells.at(at).power) - self.level_db;
            self.set_db(self.level_db + over.clamp(0.0, FAST_RISE_DB));
            return;
        }
        let most = MOST_POWER * self.level;
        let (ahead, many) = self.cells.quiet(at..at + SIDE, most);
        if many < FEWEST {
            self.blind += 1;
            if self.blind > BLIND {
                self.set_db(self.level_db * (1.0 - 1.0 / FORGET_CELLS));
            }
            return;
        }
        self.blind = 0;
        if self.is_edge(at, ahead / many) {
            self.set_db(to_db(ahead / many));
            self.edge = at;
            return;
        }
        let (behind, few) = self.cells.quiet(self.edge.max(at - SIDE)..at, most);
        let off = to_db((ahead + behind) / (many + few)) - self.level_db;
        let share = (off / SHARE_DB).powi(2) / 12.0;
        let step = share.clamp(SHARES[0], SHARES[1]) * off;
        self.set_db(self.level_db + step.min(RISE_DB));
    }

    /// After a crash the gain is low, and has been since the crash began: as soon as the
    /// readings beyond the crash are there they count.
    fn fall_after_crash(&mut self, at: i64) -> bool {
        let [_, a, b] = self.readings;
        let level = a.level.max(b.level);
        let fallen = a.sure && b.sure && level < FALL_AFTER_CRASH * self.level;
        if fallen {
            self.set_db(to_db(level));
            self.edge = at;
        }
        fallen
    }

    /// Whether the level falls to `ahead` just here.
    fn is_edge(&self, at: i64, ahead: f32) -> bool {
        let edge = EDGES[usize::from(self.active > 0.1)];
        if ahead >= edge * self.level {
            return false;
        }
        // What lies further ahead must agree, if less clearly.
        let far = self
            .readings
            .iter()
            .map(|r| r.level)
            .product::<f32>()
            .cbrt();
        let (near, many) = self.cells.quiet(at..at + 3, f32::MAX);
        far < (0.4 + 0.6 * edge) * self.level && near < many * (ahead * self.level).sqrt()
    }

    /// Weight of a crash cell: one over its power, as far as it is known, over the level.
    fn weight(&self, at: i64) -> f32 {
        let own = self.cells.at(at).power;
        let (mut sum, mut count) = (own, 1.0);
        for cell in [at - 1, at + 1].map(|k| self.cells.at(k)) {
            if cell.crash {
                sum += cell.power;
                count += 1.0;
            }
        }
        (self.level / own.max(sum / count)).min(1.0)
    }

    /// Weight between cells `at - 1` and `at`, neither of which is a crash.
    fn boundary(&self, at: i64) -> f32 {
        if self.line < STRONG {
            return 1.0;
        }
        let from = |k: i64| {
            let cell = self.cells.at(k);
            let distance = if k >= at { k - at } else { at - 1 - k };
            let weight = (self.level / cell.power).min(1.0);
            match cell.crash {
                true => weight + (1.0 - weight) * TAPER[distance as usize],
                false => 1.0,
            }
        };
        (at - 3..at + 3).map(from).fold(1.0, f32::min)
    }

    /// Factor on the amplitude that takes the level out.
    fn gain(&self) -> f32 {
        let off = self.level_db.abs();
        let dead = DEAD_DB[0] * (1.0 - self.active);
        let taken = ((off - dead) * DEAD_DB[1] / (DEAD_DB[1] - dead)).clamp(0.0, off);
        to_ratio(0.5 * taken.copysign(-self.level_db).min(MOST_DB))
    }
}
