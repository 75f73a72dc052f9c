//! Copies put together: one after the other, then each again against the rest, until nothing
//! changes.

use markhold_code::Code;

use crate::align::{Band, Cell, Place, Sides, align};
use crate::columns::{Columns, Passage, Prepared};
use crate::consensus::{trimmed, way};
use crate::find::{BEYOND, HALF, around, find};
use crate::shares::{Shares, best, likelihoods};

/// A passage holds at least so many matches, and its odds over chance at least this logarithm:
/// two texts of one language have words in common, a greeting or a name; not so much in one go.
const LEAST_MATCHES: f32 = 24.0;
const LEAST_SCORE: f32 = 25.0;
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
            again(&mut columns, copies, &joined);
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
fn first_time(copy: &Prepared, places: &[Place], frequencies: &Shares) -> Vec<Passage> {
    let rows: Vec<Shares> = copy.slots.iter().map(|s| likelihoods(&s.codes)).collect();
    let columns: Vec<Shares> = places.iter().map(|p| p.codes).collect();
    passages(copy, places, find(&rows, &columns, frequencies))
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
        let way = from_text(trimmed(&way(&found.cells)), places).to_vec();
        let matches: f32 = way.iter().map(|c| c.weight).sum();
        if matches < LEAST_MATCHES || found.score < LEAST_SCORE {
            continue;
        }
        for cell in &way {
            (taken_rows[cell.row], taken_places[cell.column]) = (true, true);
        }
        let cells = found.cells;
        passages.push(Passage { way, cells });
    }
    passages.sort_by_key(|p| p.way[0].row);
    passages
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

/// Each copy against the rest, until nothing changes.
fn again(columns: &mut Columns, copies: &[Prepared], joined: &[usize]) {
    for _ in 0..MOST_ROUNDS {
        let before = columns.layout();
        for copy in joined.iter().rev() {
            let points = columns.points(*copy);
            columns.detach(*copy);
            let points = columns.placed(&points);
            let places = columns.places();
            let rows = copies[*copy].rows.len();
            let bands = stretches(&points)
                .into_iter()
                .map(|stretch| band(stretch, rows, places.len()))
                .collect();
            columns.attach(*copy, &passages(&copies[*copy], &places, bands));
        }
        if columns.layout() == before {
            break;
        }
    }
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
