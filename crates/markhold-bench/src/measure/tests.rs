use super::*;
use crate::line::edges;
use crate::{Distortion, Pattern, Sending};
use markhold_code::{Code, StartStop};
use proptest::prelude::*;

fn line(nominal: f64, error: f64, distortion: Distortion, count: usize) -> Vec<Edge> {
    let sending = Sending {
        distortion,
        ..Sending::new(StartStop::new(nominal * (1.0 + error), 1.5))
    };
    edges(
        &sending
            .line(&Pattern::Combinations.at_least(count))
            .expect("in range"),
    )
}

fn measured(line: &[Edge]) -> Measurement {
    measure(line, &Knowledge::default()).expect("a line")
}

/// Worked example W2: US Army practice exercise. Transitions to mark are delayed 6 ms more
/// than those to space, at elements of 13 ms: 46 % distortion (6/13 = 46.2 %).
#[test]
fn army_exercise() {
    let distortion = Distortion {
        bias: -6.0 / 13.0,
        ..Distortion::default()
    };
    let line = line(1.0 / 0.013, 0.0, distortion, 100);
    let found = measure(
        &line,
        &Knowledge {
            nominal_baud: Some(1.0 / 0.013),
            ..Knowledge::default()
        },
    )
    .expect("a line");
    for percent in [-found.bias.value, found.gross.seen, found.isochronous.seen] {
        assert_eq!((100.0 * percent).round(), 46.0, "{found:?}");
    }
}

/// Worked example W1: elements of 22 ms, a stop element of 31 ms.
#[test]
fn army_machine() {
    let sending = Sending::new(StartStop::new(1.0 / 0.022, 31.0 / 22.0));
    let codes = Pattern::Alternating.at_least(60);
    let found = measured(&edges(&sending.line(&codes).expect("undistorted")));
    assert!((found.rate_baud.value - 45.4545).abs() < 1e-3);
    let stops = found.stops.expect("continuous");
    assert!((stops.median * 22.0 - 31.0).abs() < 1e-6);
    assert_eq!((stops.count, stops.pauses), (codes.len() - 1, 0));
    let character_ms = 1e3 * (found.characters[1].start_s - found.characters[0].start_s);
    assert!((character_ms - 163.0).abs() < 1e-6);
}

/// References 3.20, geometry: a speed error moves the last transition, at 6 units, by 4.5 %
/// at 0.75 %; gross distortion counts it, synchronous does not (ITU-T R.140, from memory).
#[test]
fn gross_counts_the_speed_and_synchronous_does_not() {
    let found = measured(&line(50.0, -0.0075, Distortion::default(), 100));
    assert!((found.gross.seen - 0.045).abs() < 0.0005, "{found:?}");
    assert!(found.synchronous.seen < 1e-6);
    assert!((found.speed_error.value + 0.0075).abs() < 1e-6);
}

#[test]
fn the_other_sense_is_found_and_told() {
    let line = turned(&line(50.0, 0.0, Distortion::default(), 60));
    let knowledge = Knowledge {
        either_sense: true,
        ..Knowledge::default()
    };
    let found = measure(&line, &knowledge).expect("a line");
    assert!(found.turned);
    assert_eq!(found.explained, 1.0);
}

#[test]
fn poor_lines_are_not_judged() {
    let few = measured(&line(50.0, 0.0, Distortion::default(), 1)[..60]);
    assert!(
        matches!(few.refusal(), Some(Refusal::Few { .. })),
        "{few:?}"
    );
    let noisy = Distortion {
        fortuitous: 0.4,
        ..Distortion::default()
    };
    let wide = measured(&line(50.0, 0.0, noisy, 30));
    assert!(matches!(wide.refusal(), Some(Refusal::Uncertain { .. })));
    let good = measured(&line(50.0, 0.0, Distortion::default(), 100));
    assert_eq!(good.refusal(), None);
}

#[test]
fn what_is_no_line_is_an_error() {
    let none = Knowledge::default();
    assert!(matches!(
        measure(&[], &none),
        Err(MeasureError::NoCharacters { found: 0 })
    ));
    let codes = Pattern::Repeated(Code::LETTERS).at_least(50);
    let line = edges(
        &Sending::new(StartStop::new(50.0, 1.5))
            .line(&codes)
            .expect("undistorted"),
    );
    let error = measure(&line, &none).unwrap_err();
    assert!(
        matches!(error, MeasureError::Monotonous { characters: 50 }),
        "{error:?}"
    );
    let mut wrong = line.clone();
    wrong.swap(3, 4);
    assert!(matches!(measure(&wrong, &none), Err(MeasureError::Line(_))));
}

/// Jitter on every edge, the start edges too, as noise of measuring would put it there.
fn jittered(line: &[Edge], rms_s: f64) -> Vec<Edge> {
    let mut state = 7u64;
    let mut uniform = || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1u64 << 53) as f64
    };
    // Sum of 12 uniform numbers: near enough to a Gaussian of variance 1.
    let mut normal = || (0..12).map(|_| uniform()).sum::<f64>() - 6.0;
    let moved = |e: &Edge| Edge {
        at_s: e.at_s + rms_s * normal(),
        ..*e
    };
    line.iter().map(moved).collect()
}

/// Error of measuring widens the interval of the degree, and is taken off the fortuitous
/// distortion.
#[test]
fn the_error_of_measuring_is_allowed_for() {
    let clean = Distortion {
        bias: 0.1,
        fortuitous: 0.05,
        ..Distortion::default()
    };
    let noise_s = 0.02 * 0.02;
    let line = jittered(&line(50.0, 0.0, clean, 400), noise_s);
    let knowledge = Knowledge {
        noise_s,
        worst_s: 4.0 * noise_s,
        ..Knowledge::default()
    };
    let found = measure(&line, &knowledge).expect("a line");
    assert!((found.bias.value - 0.1).abs() < 0.01);
    // Uniform between -5 and 5 %: 5 / sqrt(3) rms.
    assert!(
        (found.fortuitous_rms - 0.05 / 3f64.sqrt()).abs() < 0.005,
        "{}",
        found.fortuitous_rms
    );
    let true_degree = 0.15;
    assert!(
        found.gross.least <= true_degree && true_degree <= found.gross.most,
        "{:?}",
        found.gross
    );
}

proptest! {
    /// Any edges at all are measured or refused; figures that come out are numbers.
    #[test]
    fn any_edges_are_borne(
        gaps in proptest::collection::vec(1e-6..0.2f64, 0..120),
        first: bool,
        rate in proptest::option::of(10.0..400.0f64),
    ) {
        let mut at_s = 0.0;
        let mut mark = first;
        let line: Vec<Edge> = gaps
            .iter()
            .map(|gap| {
                at_s += gap;
                mark = !mark;
                Edge { at_s, mark }
            })
            .collect();
        let knowledge = Knowledge { nominal_baud: rate, either_sense: true, ..Knowledge::default() };
        if let Ok(found) = measure(&line, &knowledge) {
            prop_assert!(found.rate_baud.value > 0.0 && found.rate_baud.value.is_finite());
            prop_assert!(found.bias.value.is_finite() && found.gross.seen.is_finite());
            prop_assert!((0.0..=1.0).contains(&found.explained));
            let _ = crate::limits::judge(&found);
            prop_assert!(!crate::drawing::histogram(&found).contains("NaN"));
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]
    /// Measured distortion is sent distortion, to 1 % of an element, at every rate.
    #[test]
    fn what_is_sent_is_measured(
        rate in prop::sample::select(unit::rates_baud().collect::<Vec<_>>()),
        error in -0.03..0.03f64,
        (bias, end) in (-0.2..0.2f64, -0.2..0.2f64),
        fortuitous in 0.0..0.08f64,
    ) {
        let sent = Distortion { bias, end, fortuitous };
        let found = measured(&line(rate, error, sent, 400));
        prop_assert_eq!(found.nominal_baud, rate);
        prop_assert!((found.speed_error.value - error).abs() < 0.002);
        prop_assert!((found.bias.value - bias).abs() < 0.01, "{:?}", found.bias);
        prop_assert!((found.end.expect("ends").value - end).abs() < 0.01, "{:?}", found.end);
        prop_assert!((found.fortuitous_rms - fortuitous / 3f64.sqrt()).abs() < 0.005);
        // 400 characters come within 1 % of the largest fortuitous distortion.
        let most = bias.abs().max(end.abs()) + fortuitous;
        prop_assert!((found.synchronous.seen - most).abs() < 0.01, "{:?}", found.synchronous);
        prop_assert_eq!(found.refusal(), None);
    }
}
