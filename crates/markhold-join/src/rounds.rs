//! Copies put together: one after the other, then each again against the rest, until nothing
//! changes.

use std::collections::HashSet;

use markhold_code::Code;

use crate::align::{Band, align};
use crate::columns::{Columns, Passage, Prepared};
use crate::consensus::{parts, rising, way};
use crate::find::{BEYOND, HALF, around, find};
use crate::shares::{Shares, best, likelihoods};
use crate::sides::{Cell, Place, Sides};

/// A passage holds at least so many matches, and its odds over chance at least this logarithm:
/// two texts of one language have words in common, a greeting or a name; not so much in one go.
const LEAST_MATCHES: f32 = 24.0;
const LEAST_SCORE: f32 = 25.0;
/// One place in so many may change back and forth for ever.
const FEW: usize = 500;
/// Rounds after which it is left as it is.
const MOST_ROUNDS: usize = 8;

/// Columns of copies that repeat each other, and which copies they are.
pub(crate) struct Together<'a> {
    pub columns: Columns<'a>,
    /// The best first.
    pub copies: Vec<usize>,
}

/// Puts together what repeats; copies that repeat none of the others are left out.
pub(crate) fn together<'a>(
    copies: &'a [Prepared],
    information: &[f32],
    frequencies: &Shares,
) -> Vec<Together<'a>> {
    let mut order: Vec<usize> = (0..copies.len()).collect();
    order.sort_by(|a, b| information[*b].total_cmp(&information[*a]));
    let mut all = Vec::new();
    while let Some(base) = (!order.is_empty()).then(|| order.remove(0)) {
        let mut columns = Columns::new(copies, *frequencies, base);
        let mut joined = vec![base];
        while let Some((at, passages)) = next(&columns, copies, &order, frequencies) {
            let copy = order.remove(at);
            columns.attach(copy, &passages);
            joined.push(copy);
        }
        if joined.len() > 1 {
            again(&mut columns, copies, &joined, frequencies);
            all.push(Together {
                columns,
                copies: joined,
            });
        }
    }
    all
}

/// The first of those left that repeats what is there.
fn next(
    columns: &Columns,
    copies: &[Prepared],
    left: &[usize],
    frequencies: &Shares,
) -> Option<(usize, Vec<Passage>)> {
    let places = columns.places();
    let passages = |at: usize| {
        let found = first_time(&copies[left[at]], &places, frequencies);
        (!found.is_empty()).then_some((at, found))
    };
    (0..left.len()).find_map(passages)
}

/// The passages of a copy of which nothing is known yet.
pub(crate) fn first_time(copy: &Prepared, places: &[Place], frequencies: &Shares) -> Vec<Passage> {
    passages(copy, places, bands(copy, places, frequencies))
}

fn bands(copy: &Prepared, places: &[Place], frequencies: &Shares) -> Vec<Band> {
    let rows: Vec<Shares> = copy.slots.iter().map(|s| likelihoods(&s.codes)).collect();
    let columns: Vec<Shares> = places.iter().map(|p| p.codes).collect();
    find(&rows, &columns, frequencies)
}

/// Passages along bands; what one has taken is not there for the next.
fn passages(copy: &Prepared, places: &[Place], bands: Vec<Band>) -> Vec<Passage> {
    let mut taken_rows = vec![false; copy.rows.len()];
    let mut taken_places = vec![false; places.len()];
    let mut passages = Vec::new();
    for band in bands {
        let sides = Sides {
            rows: &copy.rows,
            places,
            taken_rows: &taken_rows,
            taken_places: &taken_places,
        };
        let found = align(&sides, &band);
        if found.score < LEAST_SCORE {
            continue;
        }
        let whole = way(&found.cells);
        let rising = rising(&whole, &sides.scores(&whole));
        for part in rising.into_iter().flat_map(parts).collect::<Vec<_>>() {
            let way = from_text(part, places);
            if way.iter().map(|c| c.weight).sum::<f32>() < LEAST_MATCHES {
                continue;
            }
            for cell in way {
                (taken_rows[cell.row], taken_places[cell.column]) = (true, true);
            }
            passages.push(passage(way, &found.cells));
        }
    }
    passages.sort_by_key(|p| p.way[0].row);
    passages
}

/// A passage, and what else is possible between its ends.
fn passage(way: &[Cell], cells: &[Cell]) -> Passage {
    let (first, last) = (way[0], way[way.len() - 1]);
    let within = |c: &&Cell| {
        (first.row..=last.row).contains(&c.row) && (first.column..=last.column).contains(&c.column)
    };
    Passage {
        way: way.to_vec(),
        cells: cells.iter().filter(within).copied().collect(),
    }
}

/// From the first match that prints on: a line's end before it belongs to what stands there,
/// which may be another thing in each copy.
fn from_text<'a>(way: &'a [Cell], places: &[Place]) -> &'a [Cell] {
    let silent = [
        Code::SPACE,
        Code::CARRIAGE_RETURN,
        Code::LINE_FEED,
        Code::LETTERS,
    ];
    let prints =
        |c: &Cell| c.same > 0.5 && !silent.contains(&Code::ALL[best(&places[c.column].codes)]);
    &way[way.iter().position(prints).unwrap_or(way.len())..]
}

/// Each copy against the rest, until nothing changes, or a few places change back and forth.
fn again(columns: &mut Columns, copies: &[Prepared], joined: &[usize], frequencies: &Shares) {
    let mut changed = usize::MAX;
    for round in 0..MOST_ROUNDS {
        let before = columns.layout();
        for copy in joined.iter().rev() {
            let points = columns.points(*copy);
            columns.detach(*copy);
            let points = columns.placed(&points);
            let places = columns.places();
            let rows = copies[*copy].rows.len();
            let mut bands: Vec<Band> = stretches(&points)
                .into_iter()
                .map(|stretch| band(stretch, rows, places.len()))
                .collect();
            // What one faint copy does not show beside another it may show beside all of them.
            if round == 0 {
                let found = self::bands(&copies[*copy], &places, frequencies);
                bands.extend(found.into_iter().filter(|b| is_new(b, &points)));
            }
            columns.attach(*copy, &passages(&copies[*copy], &places, bands));
        }
        let now: HashSet<_> = columns.layout().into_iter().collect();
        let still = before.iter().filter(|c| !now.contains(*c)).count();
        let few = still * FEW < before.len();
        if still == 0 || few && still >= std::mem::replace(&mut changed, still) {
            break;
        }
    }
}

/// Whether fewer than half of the rows of a band stand anywhere yet.
fn is_new(band: &Band, points: &[(usize, usize)]) -> bool {
    let rows = band.first..band.first + band.columns.len();
    let known = points.iter().filter(|p| rows.contains(&p.0)).count();
    2 * known < rows.len()
}

/// Parts, the longest first, within which rows and columns go on together.
fn stretches(points: &[(usize, usize)]) -> Vec<&[(usize, usize)]> {
    let near = |a: &(usize, usize), b: &(usize, usize)| {
        b.1 > a.1 && (b.1 - a.1).abs_diff(b.0 - a.0) <= HALF
    };
    let mut parts: Vec<&[(usize, usize)]> = points.chunk_by(near).collect();
    parts.sort_by_key(|p| std::cmp::Reverse(p.len()));
    parts
}

/// Around where a stretch of a copy stood, and somewhat beyond.
fn band(stretch: &[(usize, usize)], rows: usize, columns: usize) -> Band {
    let points: Vec<(usize, isize)> = stretch.iter().map(|p| (p.0, p.1 as isize)).collect();
    let first = points[0].0.saturating_sub(BEYOND);
    let last = (points[points.len() - 1].0 + BEYOND).min(rows);
    around(&points, first..last, columns)
}
