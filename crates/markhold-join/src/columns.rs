//! The joint copy while it is made: one column for each place of the bulletin, and what
//! every copy says of it.

use crate::shares::{Shares, Slot, likelihoods, normal};
use crate::sides::{Cell, Place, Row};

/// Nearest to nothing and to certain that is believed of a claim that anything was sent.
const LEAST_CLAIM: f32 = 1e-3;

/// What one copy says of a column.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Voice {
    /// The slot that stands there; `None` where the copy goes past it and has none.
    pub slot: Option<usize>,
    /// The stretch of the copy that it is in: within one the copy goes past everything.
    pub stretch: usize,
    /// Probability that this slot stands for the same code as the rest.
    pub weight: f32,
    /// How much likelier each code makes what the copy has here, all slots considered that may
    /// stand here, or none.
    pub message: Shares,
}

/// One place.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Column {
    /// Its name, which stays when others come and go.
    pub id: usize,
    /// By copy; `None` where the copy was not there.
    pub voices: Vec<Option<Voice>>,
}

impl Column {
    /// The slot of a copy.
    pub fn slot(&self, copy: usize) -> Option<usize> {
        self.voices[copy].as_ref().and_then(|v| v.slot)
    }

    /// The copies that bear it.
    pub fn bearers(&self) -> impl Iterator<Item = usize> {
        (0..self.voices.len()).filter(|copy| self.slot(*copy).is_some())
    }

    /// Whether this one bears it and nobody else.
    pub fn alone(&self) -> Option<usize> {
        let mut bearers = self.bearers();
        bearers.next().filter(|_| bearers.next().is_none())
    }
}

/// One copy, ready to be aligned.
pub(crate) struct Prepared {
    pub slots: Vec<Slot>,
    pub rows: Vec<Row>,
}

impl Prepared {
    pub fn new(slots: &[Slot], frequencies: &Shares) -> Self {
        let row = |slot: &Slot| {
            let likely = likelihoods(&slot.codes);
            let chance: f32 = likely.iter().zip(frequencies).map(|(l, f)| l * f).sum();
            Row {
                odds: likely.map(|l| l / chance),
                present: slot.present.clamp(LEAST_CLAIM, 1.0 - LEAST_CLAIM),
                figures: slot.figures,
            }
        };
        Self {
            slots: slots.to_vec(),
            rows: slots.iter().map(row).collect(),
        }
    }
}

/// All columns in order.
pub(crate) struct Columns<'a> {
    pub all: Vec<Column>,
    pub copies: &'a [Prepared],
    frequencies: Shares,
    next_id: usize,
}

/// Where a copy goes along the columns: matches in order, and all matches that are possible.
#[derive(Clone, Debug)]
pub(crate) struct Passage {
    pub way: Vec<Cell>,
    pub cells: Vec<Cell>,
}

impl<'a> Columns<'a> {
    /// The columns of one copy.
    pub fn new(copies: &'a [Prepared], frequencies: Shares, base: usize) -> Self {
        let mut columns = Self {
            all: Vec::new(),
            copies,
            frequencies,
            next_id: 0,
        };
        let slots = 0..copies[base].slots.len();
        columns.all = slots.map(|slot| columns.own(base, slot, 0)).collect();
        columns
    }

    /// A column that one slot alone bears.
    fn own(&mut self, copy: usize, slot: usize, stretch: usize) -> Column {
        let mut voices = vec![None; self.copies.len()];
        voices[copy] = Some(Voice {
            slot: Some(slot),
            stretch,
            weight: 1.0,
            message: self.copies[copy].rows[slot].odds,
        });
        self.next_id += 1;
        Column {
            id: self.next_id,
            voices,
        }
    }

    /// Likelihood of each code by all copies. The one that stands there most surely counts with
    /// what it says there; of all others it counts that they may say something else's code.
    pub fn product(&self, column: &Column) -> Shares {
        let weight = |copy: &usize| column.voices[*copy].as_ref().map_or(0.0, |v| v.weight);
        let founder = column
            .bearers()
            .max_by(|a, b| weight(a).total_cmp(&weight(b)));
        let mut logs = [0.0f32; 32];
        for (copy, voice) in column.voices.iter().enumerate() {
            let Some(voice) = voice else { continue };
            let says = match voice.slot {
                Some(slot) if founder == Some(copy) => &self.copies[copy].rows[slot].odds,
                _ => &voice.message,
            };
            for (log, p) in logs.iter_mut().zip(says) {
                *log += p.max(f32::MIN_POSITIVE).ln();
            }
        }
        let most = logs.iter().copied().fold(f32::MIN, f32::max);
        normal(&logs.map(|l| (l - most).exp()))
    }

    /// How far a column is figures, by those who bear it.
    pub fn figures(&self, column: &Column) -> f32 {
        let figures = self.votes(column);
        figures.iter().sum::<f32>() / figures.len().max(1) as f32
    }

    /// What each bearer says of that.
    pub fn votes(&self, column: &Column) -> Vec<f32> {
        let of = |copy: usize| Some(self.copies[copy].slots[column.slot(copy)?].figures);
        column.bearers().filter_map(of).collect()
    }

    /// The columns as places for another copy.
    pub fn places(&self) -> Vec<Place> {
        let present = self.present();
        let place = |(column, present): (&Column, f32)| Place {
            codes: prior(&self.product(column), &self.frequencies),
            present,
            figures: self.figures(column),
        };
        self.all.iter().zip(present).map(place).collect()
    }

    /// Where the slots of a copy stand that others bear as well: slot and name of the column.
    pub fn points(&self, copy: usize) -> Vec<(usize, usize)> {
        let shared = self.all.iter().filter(|c| c.alone().is_none());
        let mut points: Vec<(usize, usize)> =
            shared.filter_map(|c| Some((c.slot(copy)?, c.id))).collect();
        points.sort_unstable();
        points
    }

    /// The same with the places where the columns of these names stand now.
    pub fn placed(&self, points: &[(usize, usize)]) -> Vec<(usize, usize)> {
        let mut places = vec![None; self.next_id + 1];
        for (place, column) in self.all.iter().enumerate() {
            places[column.id] = Some(place);
        }
        let placed = |(slot, id): &(usize, usize)| Some((*slot, places[*id]?));
        points.iter().filter_map(placed).collect()
    }

    /// Takes a copy out; columns that it alone bore go.
    pub fn detach(&mut self, copy: usize) {
        self.all.iter_mut().for_each(|c| c.voices[copy] = None);
        self.all.retain(|c| c.bearers().next().is_some());
    }

    /// Puts a copy in along its passages, which come in order of its slots; what they leave of
    /// it gets columns of its own.
    pub fn attach(&mut self, copy: usize, passages: &[Passage]) {
        for (stretch, passage) in passages.iter().enumerate() {
            self.pass(copy, passage, 2 * stretch + 1);
        }
        // Passages have odd numbers, what stands between them even ones.
        let mut stretch = 0;
        let mut before: Vec<Vec<(usize, usize)>> = vec![Vec::new(); self.all.len() + 1];
        let mut at_row: Vec<Option<usize>> = vec![None; self.copies[copy].rows.len()];
        for cell in passages.iter().flat_map(|p| &p.way) {
            at_row[cell.row] = Some(cell.column);
        }
        let begins = |row: usize| passages.iter().position(|p| p.way[0].row == row);
        let ends = |row: usize| passages.iter().any(|p| p.way[p.way.len() - 1].row == row);
        let first = at_row.iter().flatten().next().copied();
        let mut place = first.unwrap_or(self.all.len());
        for (row, column) in at_row.iter().enumerate() {
            if let Some(passage) = begins(row) {
                stretch = 2 * passage + 1;
            }
            match column {
                Some(column) => place = column + 1,
                None => before[place].push((row, stretch)),
            }
            if ends(row) {
                stretch += 1;
            }
        }
        let old = std::mem::take(&mut self.all);
        let mut left = old.into_iter();
        for slots in before {
            let next = left.next();
            for (slot, stretch) in slots {
                let own = self.own(copy, slot, stretch);
                let own = self.beside(own, copy, next.as_ref());
                self.all.push(own);
            }
            self.all.extend(next);
        }
    }

    /// A new column between the last one and `next`: copies that go past both go past it.
    fn beside(&self, mut own: Column, copy: usize, next: Option<&Column>) -> Column {
        if let (Some(last), Some(next)) = (self.all.last(), next) {
            for other in (0..own.voices.len()).filter(|o| *o != copy) {
                let stretch = |c: &Column| c.voices[other].as_ref().map(|v| v.stretch);
                if let Some(within) = stretch(last).filter(|s| stretch(next) == Some(*s)) {
                    own.voices[other] = Some(nothing(within));
                }
            }
        }
        own
    }

    fn pass(&mut self, copy: usize, passage: &Passage, stretch: usize) {
        let (Some(first), Some(last)) = (passage.way.first(), passage.way.last()) else {
            return;
        };
        let span = first.column..=last.column;
        for column in &mut self.all[span.clone()] {
            column.voices[copy] = Some(nothing(stretch));
        }
        let places: Vec<Shares> = span
            .clone()
            .map(|j| prior(&self.product(&self.all[j]), &self.frequencies))
            .collect();
        for cell in passage.cells.iter().filter(|c| span.contains(&c.column)) {
            let odds = &self.copies[copy].rows[cell.row].odds;
            let place = &places[cell.column - first.column];
            let both: f32 = odds.iter().zip(place).map(|(o, p)| o * p).sum();
            let share = cell.weight * cell.same;
            if let Some(voice) = &mut self.all[cell.column].voices[copy] {
                for (m, o) in voice.message.iter_mut().zip(odds) {
                    *m += share * (o / both - 1.0);
                }
            }
        }
        for cell in &passage.way {
            if let Some(voice) = &mut self.all[cell.column].voices[copy] {
                voice.slot = Some(cell.row);
                voice.weight = cell.weight * cell.same;
            }
        }
    }

    /// Where each slot of a copy stands and with whom: what is compared to see whether
    /// anything changed.
    pub fn layout(&self) -> Vec<Vec<Option<usize>>> {
        let of = |c: &Column| (0..c.voices.len()).map(|copy| c.slot(copy)).collect();
        self.all.iter().map(of).collect()
    }
}

/// A copy goes past and says nothing.
fn nothing(stretch: usize) -> Voice {
    Voice {
        slot: None,
        stretch,
        weight: 0.0,
        message: [1.0; 32],
    }
}

/// Likelihoods and how often each code is sent, together.
fn prior(likely: &Shares, frequencies: &Shares) -> Shares {
    let mut both = *likely;
    both.iter_mut().zip(frequencies).for_each(|(b, f)| *b *= f);
    normal(&both)
}
