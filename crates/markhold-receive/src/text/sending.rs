//! Sending: what a sender sends from each state that it may be in, and where that leads.
//!
//! The states are those of the drawing in [`super::shifts`].

use std::sync::LazyLock;

use markhold_code::{Code, FiguresRow, Shift, Symbol, symbol};
use markhold_language::{latin, tokens};

use super::slot::CODES;

/// What a space in figures does, and whether the sender sends the shift again after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Habit {
    /// A shift holds until the next is sent (ITU-T S.1).
    Holds,
    /// It holds, and is sent again after each space in figures (common practice of senders
    /// who cannot know whether a printer returns to letters on a space).
    Repeats,
    /// A space returns to letters (common practice of many machines).
    Unshifts,
}

pub(super) const HABITS: [Habit; 3] = [Habit::Holds, Habit::Repeats, Habit::Unshifts];
pub(super) const PLACES: usize = 5;
pub(super) const LOOKS: usize = 3;
pub(super) const STATES: usize = HABITS.len() * 2 * PLACES * LOOKS;

/// Digits among what is sent in figures; signs that bulletins, reports and nets are full of;
/// those met sometimes; those hardly ever (common practice).
const FIGURES: [(&str, f32); 4] = [
    ("QWERTYUIOP", 0.80),
    ("ABCKLMNX", 0.15),
    ("SJVZ", 0.046),
    ("DFGH", 0.004),
];

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    /// Within a word or a group.
    Within,
    /// After a space in letters.
    Word,
    /// After a space in figures.
    Group,
    /// After a line's end.
    End,
    /// After a shift.
    Shifted,
}

const ALL_PLACES: [Place; PLACES] = [
    Place::Within,
    Place::Word,
    Place::Group,
    Place::End,
    Place::Shifted,
];

#[derive(Clone, Copy, Debug)]
pub(super) struct State {
    pub(super) habit: Habit,
    pub(super) shift: Shift,
    pub(super) place: Place,
    pub(super) look: usize,
}

impl State {
    pub(super) fn of(index: usize) -> Self {
        Self {
            habit: HABITS[index / (2 * PLACES * LOOKS)],
            shift: [Shift::Letters, Shift::Figures][index / (PLACES * LOOKS) % 2],
            place: ALL_PLACES[index / LOOKS % PLACES],
            look: index % LOOKS,
        }
    }

    pub(super) fn index(self) -> usize {
        let outer = (self.habit as usize * 2 + self.shift as usize) * PLACES + self.place as usize;
        outer * LOOKS + self.look
    }

    /// Where a code leads.
    pub(super) fn after(self, code: Code) -> Self {
        let (shift, place) = match (code, self.shift) {
            (Code::LETTERS, _) => (Shift::Letters, Place::Shifted),
            (Code::FIGURES, _) => (Shift::Figures, Place::Shifted),
            (Code::BLANK, shift) => (shift, self.place),
            (Code::CARRIAGE_RETURN | Code::LINE_FEED, shift) => (shift, Place::End),
            (Code::SPACE, Shift::Figures) if self.habit == Habit::Unshifts => {
                (Shift::Letters, Place::Group)
            }
            (Code::SPACE, Shift::Figures) => (Shift::Figures, Place::Group),
            (Code::SPACE, Shift::Letters) if self.place == Place::Group => {
                (Shift::Letters, Place::Group)
            }
            (Code::SPACE, Shift::Letters) => (Shift::Letters, Place::Word),
            (_, shift) => (shift, Place::Within),
        };
        Self {
            shift,
            place,
            ..self
        }
    }

    /// Share of letters shifts and of figures shifts among what is sent next. All of these
    /// are orders of size, not counts: text has a sign in some forty letters, figures begin after a
    /// space once in some ten words and come in groups of some seven, and who repeats shifts does
    /// so always.
    fn shifts(self) -> [f32; 2] {
        match (self.shift, self.place, self.habit) {
            (Shift::Letters, Place::Within, _) => [0.004, 0.025],
            (Shift::Letters, Place::Word, _) => [0.004, 0.10],
            (Shift::Letters, Place::Group, _) => [0.05, 0.45],
            (Shift::Letters, Place::End, _) => [0.10, 0.03],
            // Letters shifts are sent as fill, too.
            (Shift::Letters, Place::Shifted, _) => [0.15, 0.02],
            (Shift::Figures, Place::Within, _) => [0.13, 0.006],
            // A space in letters leads here by no way.
            (Shift::Figures, Place::Group | Place::Word, Habit::Repeats) => [0.39, 0.58],
            (Shift::Figures, Place::Group | Place::Word, _) => [0.35, 0.01],
            (Shift::Figures, Place::End, _) => [0.2, 0.1],
            (Shift::Figures, Place::Shifted, _) => [0.01, 0.02],
        }
    }
}

/// How often blank is sent: hardly ever.
const BLANKS: f32 = 0.001;

/// Share of each code among what is sent from a state in which nothing is repeated.
fn plain(state: State) -> [f32; CODES] {
    let [to_letters, to_figures] = state.shifts();
    let text = 1.0 - to_letters - to_figures - BLANKS;
    let [space, ends, looks] = match (state.shift, state.place, state.look) {
        // As many as if all 29 codes of text were alike.
        (Shift::Letters, Place::Within | Place::Word | Place::Group, ANY | AGAIN) => {
            [1.0, 2.0, 26.0].map(|n| n / 29.0)
        }
        (_, Place::Within, _) => [0.15, 0.02, 0.83],
        (_, Place::Word | Place::Group, _) => [0.05, 0.02, 0.93],
        (_, Place::End, _) => [0.02, 0.48, 0.5],
        // A shift is sent for what it prints.
        (_, Place::Shifted, _) => [0.02, 0.03, 0.95],
    };
    let mut codes = printed(state).map(|p| p * looks * text);
    let named = [
        (Code::SPACE, space * text),
        (Code::CARRIAGE_RETURN, ends / 2.0 * text),
        (Code::LINE_FEED, ends / 2.0 * text),
        (Code::LETTERS, to_letters),
        (Code::FIGURES, to_figures),
        (Code::BLANK, BLANKS),
    ];
    for (code, p) in named {
        codes[index(code)] = p;
    }
    codes
}

/// Looks of letters: like words, any, repeated.
const WORDS: usize = 0;
const ANY: usize = 1;
pub(super) const AGAIN: usize = 2;

/// Share of each printing code among those.
fn printed(state: State) -> [f32; CODES] {
    let letter = |code| match symbol(code, Shift::Letters, FiguresRow::Ita2) {
        Symbol::Print(c) => Some(c),
        _ => None,
    };
    let figures = |c: char| {
        let of = FIGURES.into_iter().find(|f| f.0.contains(c));
        of.map_or(0.0, |(all, share)| share / all.len() as f32)
    };
    Code::ALL.map(|code| match (letter(code), state.shift, state.look) {
        (None, ..) => 0.0,
        (Some(c), Shift::Figures, _) => figures(c),
        (Some(c), Shift::Letters, WORDS) => tokens::token(c).map_or(0.0, latin::frequency),
        (Some(_), Shift::Letters, _) => 1.0 / 26.0,
    })
}

pub(super) static PLAIN: LazyLock<Vec<[f32; CODES]>> =
    LazyLock::new(|| (0..STATES).map(|i| plain(State::of(i))).collect());

pub(super) const WAYS: usize = 6;
/// A code of each way.
const WAY_CODES: [Code; WAYS] = [
    Code::from_elements([true, false, false, false, false]),
    Code::SPACE,
    Code::LINE_FEED,
    Code::LETTERS,
    Code::FIGURES,
    Code::BLANK,
];

pub(super) static TARGETS: LazyLock<Vec<[usize; WAYS]>> = LazyLock::new(|| {
    let of = |i| WAY_CODES.map(|code| State::of(i).after(code).index());
    (0..STATES).map(of).collect()
});

pub(super) fn way(code: Code) -> usize {
    match code {
        Code::SPACE => 1,
        Code::CARRIAGE_RETURN | Code::LINE_FEED => 2,
        Code::LETTERS => 3,
        Code::FIGURES => 4,
        Code::BLANK => 5,
        _ => 0,
    }
}

pub(super) fn index(code: Code) -> usize {
    usize::from(code.value())
}
