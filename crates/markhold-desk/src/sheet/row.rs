//! One line of paper.

use super::Gap;
use markhold_event::{Character, SentLine};
use serde::{Serialize, Serializer};
use std::sync::Arc;

/// One stroke of type.
#[derive(Clone, Debug, PartialEq)]
pub struct Struck {
    /// The column, counted from 0.
    pub column: u16,
    /// What was struck there.
    pub glyph: char,
    /// The character of copy; `None` where it is sure by the signal alone, and for what
    /// discipline added.
    pub character: Option<Arc<Character>>,
    /// A first reading, not decided yet.
    pub early: bool,
}

/// One line of paper: everything struck on it, in the order of time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// Every strike.
    pub struck: Vec<Struck>,
    /// How often the bell rang while the paper was here.
    pub bells: u16,
    /// When the first of it was sent, s of live time.
    pub begin_s: Option<f64>,
    /// What is missing here, in words; nothing else stands on such a row.
    pub gap: Option<String>,
}

/// A cell that is more than one sure character.
#[derive(Clone, Debug, PartialEq)]
pub struct Mark<'a> {
    /// The column, counted from 0.
    pub column: u16,
    /// Everything struck there, the first strike first.
    pub struck: Vec<&'a Struck>,
}

impl Row {
    /// A row that says what is missing.
    pub fn of_gap(gap: &Gap) -> Self {
        Row {
            gap: Some(gap.words()),
            begin_s: Some(gap.at_s),
            ..Row::default()
        }
    }

    /// A line that was sent from here.
    pub fn of_sent(line: &SentLine) -> Self {
        let mut row = Row {
            begin_s: Some(line.at_s),
            ..Row::default()
        };
        for (column, glyph) in (0..).zip(line.text.chars()) {
            row.strike(column, glyph, None);
        }
        row
    }

    /// The first strike of every cell; empty cells are spaces.
    pub fn text(&self) -> String {
        let mut cells: Vec<char> = Vec::new();
        for struck in self.struck.iter().rev() {
            let column = usize::from(struck.column);
            if cells.len() <= column {
                cells.resize(column + 1, ' ');
            }
            cells[column] = struck.glyph;
        }
        cells.into_iter().collect()
    }

    /// Cells that a page shows in another way than as a sure character, from the left.
    pub fn marks(&self) -> Vec<Mark<'_>> {
        let mut order: Vec<&Struck> = self.struck.iter().collect();
        order.sort_by_key(|struck| struck.column);
        let mut marks = Vec::new();
        for cell in order.chunk_by(|a, b| a.column == b.column) {
            if cell.len() > 1 || cell.iter().any(|s| s.is_marked()) {
                marks.push(Mark {
                    column: cell[0].column,
                    struck: cell.to_vec(),
                });
            }
        }
        marks
    }

    /// About how many bytes of JSON it is.
    pub fn weight(&self) -> usize {
        let marked = self.struck.iter().filter(|s| s.is_marked()).count();
        PLAIN + self.struck.len() + MARKED * marked
    }

    /// Adds a strike of this character of copy.
    pub fn strike(&mut self, column: u16, glyph: char, of: Option<(Arc<Character>, bool)>) {
        if let Some((character, _)) = &of {
            let before_s = self.begin_s.unwrap_or(f64::INFINITY);
            self.begin_s = Some(before_s.min(character.start_s));
        }
        let early = of.as_ref().is_some_and(|of| of.1);
        // What is sure needs no more than its glyph: an evening has a hundred thousand.
        let by_language = |c: &Character| c.witnesses.is_some_and(|both| both.differ());
        let marked = |c: &Character| early || c.probability < SURE || by_language(c);
        let doubtful = of.filter(|of| marked(&of.0));
        self.struck.push(Struck {
            column,
            glyph,
            character: doubtful.map(|of| of.0),
            early,
        });
    }
}

/// Below this a page shows a decided character lighter, probability.
const SURE: f32 = 0.95;

/// Bytes of a row as JSON without what is typed, and of what a cell that is marked bears: as measured.
const PLAIN: usize = 60;
const MARKED: usize = 270;

impl Struck {
    fn is_marked(&self) -> bool {
        self.early || self.character.is_some()
    }
}

#[derive(Serialize)]
struct RowObject<'a> {
    /// When the first of it was sent, s.
    at: Option<f64>,
    text: String,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    marks: Vec<MarkObject<'a>>,
    #[serde(skip_serializing_if = "is_none")]
    bells: u16,
    #[serde(skip_serializing_if = "Option::is_none")]
    gap: Option<&'a str>,
}

fn is_none(bells: &u16) -> bool {
    *bells == 0
}

#[derive(Serialize)]
struct MarkObject<'a> {
    column: u16,
    struck: Vec<StruckObject<'a>>,
}

#[derive(Serialize)]
struct StruckObject<'a> {
    glyph: char,
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    early: bool,
    character: Option<&'a Character>,
}

impl Serialize for Row {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        fn struck<'a>(s: &&'a Struck) -> StruckObject<'a> {
            StruckObject {
                glyph: s.glyph,
                early: s.early,
                character: s.character.as_deref(),
            }
        }
        fn mark<'a>(m: &Mark<'a>) -> MarkObject<'a> {
            MarkObject {
                column: m.column,
                struck: m.struck.iter().map(struck).collect(),
            }
        }
        let marks = self.marks();
        RowObject {
            at: self.begin_s,
            text: self.text(),
            marks: marks.iter().map(mark).collect(),
            bells: self.bells,
            gap: self.gap.as_deref(),
        }
        .serialize(to)
    }
}
