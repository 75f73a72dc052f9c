//! The page: what stands on the paper.

mod ink;
mod printer;
#[cfg(test)]
mod printer_tests;

pub use ink::Ink;
pub use printer::{Printer, print};

/// One stroke of type on paper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strike {
    /// What was struck, never a space.
    pub character: char,
    /// When its start element began, s.
    pub at_s: f64,
    /// How dark it is shown: sure characters black, doubtful ones lighter.
    pub ink: Ink,
    /// It was struck while the carriage was still returning, so it stands where the
    /// carriage happened to be.
    pub in_return: bool,
}

/// A strike and its place in the line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Struck {
    /// The column, counted from 0.
    pub column: u16,
    /// What was struck there.
    pub strike: Strike,
}

/// One line of paper. Empty lines hold nothing.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Line {
    /// Everything struck, in the order of time.
    pub struck: Vec<Struck>,
}

impl Line {
    /// Everything struck in one cell, the first strike first.
    pub fn cell(&self, column: u16) -> impl Iterator<Item = &Strike> {
        let here = move |struck: &&Struck| struck.column == column;
        self.struck.iter().filter(here).map(|struck| &struck.strike)
    }

    /// Columns up to the last strike, 0 for an empty line.
    pub fn width(&self) -> usize {
        let ends = self.struck.iter().map(|s| usize::from(s.column) + 1);
        ends.max().unwrap_or(0)
    }

    /// The line as layers of one strike a cell: the first strikes, then everything struck
    /// over them, and so on. An empty line has none.
    pub fn layers(&self) -> Vec<Vec<Option<Strike>>> {
        let mut layers: Vec<Vec<Option<Strike>>> = Vec::new();
        for struck in &self.struck {
            let column = usize::from(struck.column);
            let free = |layer: &Vec<Option<Strike>>| !matches!(layer.get(column), Some(Some(_)));
            let k = layers.iter().position(free).unwrap_or(layers.len());
            if k == layers.len() {
                layers.push(Vec::new());
            }
            if layers[k].len() <= column {
                layers[k].resize(column + 1, None);
            }
            layers[k][column] = Some(struck.strike);
        }
        layers
    }
}

/// When and where the bell rang.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bell {
    /// When, s.
    pub at_s: f64,
    /// The line the paper was at, counted from 0.
    pub line: usize,
}

/// A length of paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// Columns of the machine.
    pub columns: u16,
    /// The lines, top first; never empty: the last is the one under the type.
    pub lines: Vec<Line>,
    /// Every bell, in the order of time.
    pub bells: Vec<Bell>,
}

impl Page {
    /// Paper with nothing on it yet.
    pub fn new(columns: u16) -> Self {
        Page {
            columns,
            lines: vec![Line::default()],
            bells: Vec::new(),
        }
    }

    /// Strikes that fell into the return of the carriage.
    pub fn struck_in_return(&self) -> usize {
        let all = self.lines.iter().flat_map(|line| &line.struck);
        all.filter(|struck| struck.strike.in_return).count()
    }

    /// Cells that hold more than one strike.
    pub fn overstruck(&self) -> usize {
        let over = |line: &Line| {
            let layers = line.layers();
            layers
                .get(1)
                .map_or(0, |layer| layer.iter().flatten().count())
        };
        self.lines.iter().map(over).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn struck(column: u16, character: char) -> Struck {
        let strike = Strike {
            character,
            at_s: 0.0,
            ink: Ink::Sure,
            in_return: false,
        };
        Struck { column, strike }
    }

    #[test]
    fn layers_keep_every_strike_in_order() {
        let line = Line {
            struck: vec![
                struck(0, 'A'),
                struck(2, 'B'),
                struck(0, 'C'),
                struck(0, 'D'),
            ],
        };
        let text = |layer: &Vec<Option<Strike>>| -> String {
            layer
                .iter()
                .map(|s| s.map_or(' ', |s| s.character))
                .collect()
        };
        let layers: Vec<String> = line.layers().iter().map(text).collect();
        assert_eq!(layers, ["A B", "C", "D"]);
        assert_eq!(line.width(), 3);
        let cell: String = line.cell(0).map(|s| s.character).collect();
        assert_eq!(cell, "ACD");
    }

    #[test]
    fn overstruck_cells_are_counted_once() {
        let mut page = Page::new(72);
        page.lines[0].struck = vec![struck(0, 'A'), struck(0, 'B'), struck(0, 'C')];
        assert_eq!(page.overstruck(), 1);
    }
}
