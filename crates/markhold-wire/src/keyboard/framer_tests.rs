//! The receiver in software: known answers, and against the slow way at every rate.

use super::*;
use proptest::prelude::*;

/// Rates of machines in use, baud (US Army and Navy texts; 45.45 is one over 22 ms).
const RATES: [f64; 5] = [1.0 / 0.022, 50.0, 56.92, 74.2, 100.0];

/// A line: transitions in order, s.
type Line = Vec<(f64, bool)>;

/// Characters one after the other, the line in mark before and after. Transitions inside a
/// character come as much too late as `late` says, elements.
fn keyed(codes: &[Code], element_s: f64, stop: f64, mut late: impl FnMut() -> f64) -> (Line, f64) {
    let (mut line, mut at_s, mut mark) = (vec![(0.0, true)], 0.1, true);
    for code in codes {
        let start = [false].into_iter();
        for (k, next) in start.chain(code.elements()).chain([true]).enumerate() {
            if next != mark {
                // Distortion is measured from the start edge, which is where it is.
                let late_s = if k == 0 { 0.0 } else { late() * element_s };
                line.push((at_s + k as f64 * element_s + late_s, next));
                mark = next;
            }
        }
        at_s += (6.0 + stop) * element_s;
    }
    (line, at_s + 0.1)
}

/// Everything of a line, looked at every `step_s` as a person of great patience would.
fn framed(line: &Line, end_s: f64, framer: &mut Framer, step_s: f64) -> Vec<Stroke> {
    let mut at_s = 0.0;
    for &(edge_s, mark) in line {
        while at_s < edge_s {
            framer.until(at_s);
            at_s += step_s;
        }
        framer.edge(edge_s, mark);
    }
    while at_s < end_s {
        framer.until(at_s);
        at_s += step_s;
    }
    framer.until(end_s);
    given(framer)
}

fn given(framer: &mut Framer) -> Vec<Stroke> {
    std::iter::from_fn(|| framer.take())
        .map(|framed| framed.stroke)
        .collect()
}

/// The slow and obvious way: at every centre the whole line is asked what it is.
fn slow(line: &Line, end_s: f64, element_s: f64) -> Vec<Stroke> {
    let is_mark = |at_s: f64| {
        line.iter()
            .rev()
            .find(|edge| edge.0 <= at_s)
            .is_some_and(|edge| edge.1)
    };
    let mut all = Vec::new();
    let mut free_s = 0.0;
    for &(start_s, mark) in line {
        if mark || start_s < free_s || start_s + 6.5 * element_s > end_s {
            continue;
        }
        let centre = |k: usize| is_mark(start_s + (k as f64 + 0.5) * element_s);
        let code = Code::from_elements(std::array::from_fn(|k| centre(k + 1)));
        assert!(!centre(0), "no line of these tests has a false start");
        all.push(if centre(6) {
            Stroke::Code(code)
        } else {
            Stroke::Misread
        });
        free_s = start_s + 6.5 * element_s;
    }
    all
}

fn strokes(codes: &[Code]) -> Vec<Stroke> {
    codes.iter().copied().map(Stroke::Code).collect()
}

fn framer(element_s: f64) -> Framer {
    Framer::new(StartStop::new(1.0 / element_s, 1.5), 0.2)
}

proptest! {
    /// At every rate, with every transition anywhere within the margin that is told, it reads
    /// what was keyed, and so does the slow way.
    #[test]
    fn within_the_margin_everything_is_read(
        values in proptest::collection::vec(0u8..32, 1..30),
        rate in 0usize..RATES.len(),
        stop in 1.0..3.0f64,
        lates in proptest::collection::vec(-MARGIN..MARGIN, 6 * 30),
        step in 0.01..3.0f64,
    ) {
        let codes: Vec<Code> = values.into_iter().filter_map(Code::new).collect();
        let element_s = 1.0 / RATES[rate];
        let mut lates = lates.into_iter();
        let (line, end_s) = keyed(&codes, element_s, stop, || lates.next().unwrap_or(0.0));
        let found = framed(&line, end_s, &mut framer(element_s), step * element_s);
        prop_assert_eq!(&found, &strokes(&codes));
        prop_assert_eq!(found, slow(&line, end_s, element_s));
    }

    /// A speed that is wrong by as much as senders may be takes 0.05 element (geometry).
    #[test]
    fn a_wrong_speed_takes_its_share(
        values in proptest::collection::vec(0u8..32, 1..30),
        rate in 0usize..RATES.len(),
        wrong in -0.0075..0.0075f64,
        lates in proptest::collection::vec(-0.40..0.40f64, 6 * 30),
    ) {
        let codes: Vec<Code> = values.into_iter().filter_map(Code::new).collect();
        let element_s = 1.0 / RATES[rate];
        let mut lates = lates.into_iter();
        let keyed_s = element_s * (1.0 + wrong);
        let (line, end_s) = keyed(&codes, keyed_s, 1.5, || lates.next().unwrap_or(0.0));
        let found = framed(&line, end_s, &mut framer(element_s), element_s);
        prop_assert_eq!(found, strokes(&codes));
    }

    /// Whatever the line does: how often it is looked at changes nothing, and a character never
    /// comes of less than a start element and a mark after five more.
    #[test]
    fn looking_often_or_seldom_is_the_same(
        gaps in proptest::collection::vec(0.0..0.3f64, 0..60),
        (often, seldom) in (0.0005..0.002f64, 0.01..0.4f64),
    ) {
        let mut at_s = 0.0;
        let line: Line = gaps.iter().enumerate().map(|(k, gap)| { at_s += gap; (at_s, k % 2 == 0) }).collect();
        let end_s = at_s + 1.0;
        let one = framed(&line, end_s, &mut framer(0.022), often);
        let other = framed(&line, end_s, &mut framer(0.022), seldom);
        prop_assert_eq!(&one, &other);
        prop_assert!(one.len() <= line.len() / 2 + 1);
    }
}

/// Beyond the geometry's half element an ideal receiver reads wrong, and so must this one: the
/// margin is no more than it is said to be.
#[test]
fn beyond_half_an_element_it_reads_wrong() {
    // Element 1 mark, the others space: its end comes 0.55 element late.
    let codes = [Code::new(1).unwrap()];
    let element_s = 0.022;
    let mut k = 0;
    let (line, end_s) = keyed(&codes, element_s, 1.5, || {
        k += 1;
        if k == 2 { 0.55 } else { 0.0 }
    });
    let found = framed(&line, end_s, &mut framer(element_s), 0.001);
    assert_eq!(found, [Stroke::Code(Code::new(3).unwrap())]);
}

#[test]
fn a_contact_that_bounces_types_once() {
    // Code 16: element 5 is mark. Each change bounces for 0.8 ms, open and closed again.
    let (line, end_s) = keyed(&[Code::new(16).unwrap()], 0.022, 1.5, || 0.0);
    let bounced: Line = line
        .iter()
        .flat_map(|&(at_s, mark)| [(at_s, mark), (at_s + 0.0004, !mark), (at_s + 0.0008, mark)])
        .collect();
    let found = framed(&bounced, end_s, &mut framer(0.022), 0.001);
    assert_eq!(found, [Stroke::Code(Code::new(16).unwrap())]);
}

#[test]
fn a_tick_is_no_start() {
    let mut framer = framer(0.022);
    let line = vec![
        (0.0, true),
        (0.1, false),
        (0.105, true),
        (0.3, false),
        (0.432, true),
    ];
    // The tick is nothing; 132 ms of space are start and five elements, a blank.
    let found = framed(&line, 0.6, &mut framer, 0.001);
    assert_eq!(found, [Stroke::Code(Code::BLANK)]);
}

#[test]
fn long_space_is_a_break_once_and_no_text() {
    let mut framer = framer(0.022);
    let line = vec![(0.0, true), (0.1, false)];
    assert_eq!(framed(&line, 0.299, &mut framer, 0.001), []);
    framer.until(0.31);
    assert_eq!(given(&mut framer), [Stroke::Break]);
    assert!(framer.is_open());
    framer.until(9.0);
    framer.edge(9.5, true);
    assert_eq!(given(&mut framer), [], "it is told once");
    assert!(!framer.is_open());
    framer.edge(9.6, false);
    framer.edge(9.6 + 6.0 * 0.022, true);
    framer.until(9.8);
    assert_eq!(given(&mut framer), [Stroke::Code(Code::BLANK)]);
}

#[test]
fn a_slow_line_has_longer_characters_than_the_usual_break() {
    // 30 baud: a character of 7.5 units is 250 ms, a blank 200 ms of space.
    let mut framer = Framer::new(StartStop::new(30.0, 1.5), 0.2);
    let line = vec![(0.0, true), (0.1, false), (0.3, true)];
    assert_eq!(
        framed(&line, 0.5, &mut framer, 0.002),
        [Stroke::Code(Code::BLANK)]
    );
}

#[test]
fn space_after_a_character_that_is_no_break_is_a_misread_one() {
    let mut framer = framer(0.022);
    let line = vec![(0.0, true), (0.1, false), (0.1 + 0.17, true)];
    assert_eq!(framed(&line, 0.5, &mut framer, 0.001), [Stroke::Misread]);
}

#[test]
fn a_line_that_is_in_space_from_the_start_says_nothing() {
    let mut framer = framer(0.022);
    framer.edge(0.0, false);
    framer.until(100.0);
    assert!(framer.is_open());
    framer.edge(100.0, true);
    assert_eq!(given(&mut framer), []);
}

#[test]
fn what_nobody_looked_at_is_no_character_but_a_break_is_one() {
    let mut framer = framer(0.022);
    framer.edge(0.0, true);
    framer.lost(0.05, 0.07, true);
    framer.edge(0.1, false);
    framer.lost(0.11, 0.13, false);
    framer.edge(0.2, true);
    framer.until(0.25);
    assert_eq!(given(&mut framer), [Stroke::Misread]);
    framer.edge(0.3, false);
    framer.lost(0.31, 0.33, false);
    framer.until(5.0);
    assert_eq!(given(&mut framer), [Stroke::Break]);
}
