//! One transmission's paper.

use super::{Gap, Row, Typist, Under};
use markhold_event::{Character, CharacterId, SignalId};
use markhold_page::Machine;
use serde::Serialize;
use std::sync::Arc;

/// Rows of one piece of paper, from one of them on to the last.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PieceRows {
    /// Which piece of the sheet it is; later ones stand below.
    pub piece: u32,
    /// The piece below it, if there is one by now.
    pub before: Option<u32>,
    /// The first signal of it; `None` for what was sent from here.
    pub signal: Option<u32>,
    /// Signals that are typed at the same time have a lane each, counted from 0.
    pub lane: usize,
    /// Where the dial stood when it began, in words, if that is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// Which row the first of these is, counted from 0; rows after the last are gone.
    pub from: usize,
    /// How many rows do not change any more.
    pub settled: usize,
    /// The rows.
    pub rows: Vec<Row>,
}

/// What stands over a piece.
#[derive(Clone, Debug)]
pub struct Head {
    /// Which piece of the sheet it is.
    pub number: u32,
    /// The first signal of the transmission.
    pub signal: SignalId,
    /// Which lane it is typed in.
    pub lane: usize,
    /// Where the dial stood, in words, if that is known.
    pub place: Option<String>,
}

/// One transmission's paper.
#[derive(Clone, Debug)]
pub struct Piece {
    // Configured.
    head: Head,
    machine: Machine,
    // State.
    /// The signal that was typed last.
    latest: SignalId,
    typist: Typist,
    /// The first gap that does not stand on this paper yet.
    next_gap: usize,
    /// What is decided; the last of it may still be typed on.
    rows: Vec<Row>,
    /// Which row the first of `rows` is.
    first: usize,
    /// The latest decided character.
    decided: Option<CharacterId>,
    early: Vec<Arc<Character>>,
    /// The signal ended: no first reading will be decided any more.
    ended: bool,
    /// What was shown last behind the rows that stay, and which row that begins with.
    shown: Vec<Row>,
    shown_from: usize,
    under: Under,
    dirty: bool,
}

impl Piece {
    /// Fresh paper in this machine, on which gaps from this one on will stand.
    pub fn new(head: Head, machine: &Machine, next_gap: usize) -> Self {
        Self {
            head,
            machine: machine.clone(),
            latest: SignalId::default(),
            next_gap,
            typist: Typist::new(machine),
            rows: Vec::new(),
            first: 0,
            decided: None,
            early: Vec::new(),
            ended: false,
            shown: Vec::new(),
            shown_from: 0,
            under: Under::default(),
            dirty: false,
        }
    }

    /// Which piece of the sheet it is.
    pub fn number(&self) -> u32 {
        self.head.number
    }

    /// Whose paper it is: the first signal of the transmission.
    pub fn signal(&self) -> SignalId {
        self.head.signal
    }

    /// Which lane it is typed in.
    pub fn lane(&self) -> usize {
        self.head.lane
    }

    /// Whether more may be typed on it any moment.
    pub fn is_open(&self) -> bool {
        !self.ended
    }

    /// The signal that was typed last.
    pub fn latest(&self) -> SignalId {
        self.latest
    }

    /// The transmission goes on with this signal, on a line of its own. An earlier one that is told
    /// again says nothing more.
    pub fn go_on(&mut self, signal: SignalId) {
        if signal <= self.latest {
            return;
        }
        if !self.rows.is_empty() {
            self.typist.let_go(&mut self.rows);
            self.typist = Typist::new(&self.machine);
        }
        (self.latest, self.decided, self.ended) = (signal, None, false);
        self.early.clear();
    }

    /// A first reading. One that is decided already says nothing more.
    pub fn early(&mut self, character: &Character) {
        if character.signal < self.latest {
            return;
        }
        let last = self.early.last().map(|c| c.id).max(self.decided);
        if !self.ended && Some(character.id) > last {
            self.early.push(Arc::new(character.clone()));
            self.dirty = true;
        }
    }

    /// A decided character; first readings up to it were of it, or of nothing. One that was
    /// told before says nothing more. How many of the gaps stand on paper then.
    pub fn decided(&mut self, character: &Character, gaps: &[Gap]) -> usize {
        if character.signal < self.latest || Some(character.id) <= self.decided {
            return self.next_gap;
        }
        while let Some(gap) = gap_before(character, gaps, self.next_gap) {
            self.next_gap += 1;
            part(gap, &self.machine, &mut self.typist, &mut self.rows);
        }
        self.decided = Some(character.id);
        self.early.retain(|c| c.id > character.id);
        let character = Arc::new(character.clone());
        self.typist.take(&character, false, &mut self.rows);
        self.dirty = true;
        self.next_gap
    }

    /// The signal ended: nothing is held back, and no first reading will be decided.
    pub fn end(&mut self) {
        self.typist.let_go(&mut self.rows);
        // An evening has hundreds of pieces, and of a row only what is doubtful keeps its character.
        self.typist.forget();
        self.early = Vec::new();
        self.rows
            .iter_mut()
            .for_each(|row| row.struck.shrink_to_fit());
        self.ended = true;
        self.dirty = true;
    }

    /// Goes on in another machine, at its margin.
    pub fn set_machine(&mut self, machine: &Machine) {
        self.typist.let_go(&mut self.rows);
        self.typist = Typist::new(machine);
        self.machine = machine.clone();
    }

    /// Another piece has the decided character, and whatever came before it.
    pub fn forget_early(&mut self, decided: CharacterId) {
        let before = self.early.len();
        self.early.retain(|c| c.id > decided);
        self.dirty |= self.early.len() != before;
    }

    /// Rows so far.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    /// Whether nothing was typed.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// Where the carriage is.
    pub fn under(&self) -> Under {
        self.under
    }

    /// What changed since this was asked last.
    pub fn changes(&mut self, gaps: &[Gap]) -> Option<PieceRows> {
        if !std::mem::take(&mut self.dirty) {
            return None;
        }
        let settled = self.rows.len().saturating_sub(1);
        let mut tail = self.rows[settled..].to_vec();
        let mut typist = self.typist.clone();
        let mut next_gap = self.next_gap;
        for character in &self.early {
            while let Some(gap) = gap_before(character, gaps, next_gap) {
                next_gap += 1;
                part(gap, &self.machine, &mut typist, &mut tail);
            }
            typist.take(character, true, &mut tail);
        }
        typist.let_go(&mut tail);
        self.under = typist.under();

        let before_from = self.shown_from.max(self.first);
        let mut rows = self.rows[before_from - self.first..settled].to_vec();
        rows.extend_from_slice(&tail);
        let before = std::mem::replace(&mut self.shown, tail);
        self.shown_from = self.first + settled;
        let same = before.iter().zip(&rows).take_while(|(a, b)| a == b).count();
        let changed = rows.len() != before.len() || same < rows.len();
        changed.then(|| PieceRows {
            piece: self.head.number,
            before: None,
            signal: Some(self.head.signal.0),
            lane: self.head.lane,
            place: self.head.place.clone(),
            from: before_from + same,
            settled: self.shown_from,
            rows: rows.split_off(same),
        })
    }

    /// The latest rows before this one that there is room for, bytes, of which it takes its part; as they were when
    /// changes were asked for last.
    pub fn last_rows(&self, before: usize, room: &mut usize) -> PieceRows {
        let settled = self.shown_from.max(self.first);
        let before = before.clamp(self.first, settled + self.shown.len());
        let row = |at: usize| match at.checked_sub(settled) {
            Some(shown) => &self.shown[shown],
            None => &self.rows[at - self.first],
        };
        let from = first_of_latest(self.first, before, room, |at| row(at).weight());
        PieceRows {
            piece: self.head.number,
            before: None,
            signal: Some(self.head.signal.0),
            lane: self.head.lane,
            place: self.head.place.clone(),
            from,
            settled,
            rows: (from..before).map(|at| row(at).clone()).collect(),
        }
    }

    /// Which row the first of those is that are kept.
    pub fn first(&self) -> usize {
        self.first
    }

    /// Forgets the oldest rows, so that no more than `most` are left.
    pub fn keep(&mut self, most: usize) {
        let over = self.rows.len().saturating_sub(most);
        self.rows.drain(..over);
        self.first += over;
    }
}

/// The first of the latest rows of `first..before` that there is room for, bytes; what they weigh is taken off.
pub(super) fn first_of_latest(
    first: usize,
    before: usize,
    room: &mut usize,
    weight: impl Fn(usize) -> usize,
) -> usize {
    let mut from = before;
    while from > first && *room > 0 {
        from -= 1;
        *room = room.saturating_sub(weight(from));
    }
    from
}

/// The next gap, if this character comes after it.
fn gap_before<'a>(character: &Character, gaps: &'a [Gap], next: usize) -> Option<&'a Gap> {
    gaps.get(next).filter(|gap| gap.at_s <= character.start_s)
}

/// What was typed ends here; a row says what is missing, and what comes begins at the margin.
fn part(gap: &Gap, machine: &Machine, typist: &mut Typist, rows: &mut Vec<Row>) {
    typist.let_go(rows);
    rows.push(Row::of_gap(gap));
    *typist = Typist::new(machine);
}
