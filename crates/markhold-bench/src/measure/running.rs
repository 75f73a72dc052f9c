//! A line measured while it comes, a fixed number of characters at a time: figures that can
//! be compared with those before, while a screw is turned.

use super::{Knowledge, MeasureError, Measurement, measure};
use crate::line::{Edge, turned};

/// The first characters of a line.
#[derive(Clone, Debug, PartialEq)]
pub struct First {
    /// Their measurement.
    pub measured: Measurement,
    /// The start edge of the character after them, s: from here on the line is new.
    pub until_s: f64,
}

/// Measures the first `count` characters of a line; `None` while it holds no more than that,
/// since the last one's stop element may not be over.
///
/// # Errors
///
/// As [`measure`], for the line as it is so far.
pub fn first(
    line: &[Edge],
    count: usize,
    knowledge: &Knowledge,
) -> Result<Option<First>, MeasureError> {
    let all = measure(line, knowledge)?;
    let Some(next) = all.characters.get(count) else {
        return Ok(None);
    };
    let until_s = next.start_s;
    // Half an element before the next start edge there is the stop element of the last.
    let end_s = until_s - 0.5 / all.rate_baud.value;
    let end = line.partition_point(|edge| edge.at_s < end_s);
    // Which sense it is was decided by more than is measured now.
    let knowledge = Knowledge {
        either_sense: false,
        ..*knowledge
    };
    let measured = match all.turned {
        false => measure(&line[..end], &knowledge)?,
        true => Measurement {
            turned: true,
            ..measure(&turned(&line[..end]), &knowledge)?
        },
    };
    Ok(Some(First { measured, until_s }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::line::edges;
    use crate::{Distortion, Pattern, Sending};
    use markhold_code::StartStop;

    fn line(bias: f64, characters: usize) -> Vec<Edge> {
        let sending = Sending {
            distortion: Distortion {
                bias,
                ..Distortion::default()
            },
            ..Sending::new(StartStop::new(50.0, 1.5))
        };
        let line = sending.line(&Pattern::Combinations.at_least(characters));
        edges(&line.expect("a pattern"))
    }

    #[test]
    fn windows_of_a_line_follow_each_other_without_a_gap() {
        let all = line(0.1, 100);
        let (mut from, mut windows) = (0, Vec::new());
        while let Ok(Some(found)) = first(&all[from..], 30, &Knowledge::default()) {
            assert_eq!(found.measured.characters.len(), 30);
            assert!((found.measured.bias.value - 0.1).abs() < 1e-6);
            from = all.partition_point(|edge| edge.at_s < found.until_s);
            windows.push(found.measured.characters[0].start_s);
        }
        assert_eq!(windows.len(), 3);
        // 7.5 units of 20 ms each.
        for (k, begin_s) in windows.iter().enumerate() {
            assert!(
                (begin_s - windows[0] - 4.5 * k as f64).abs() < 1e-6,
                "{windows:?}"
            );
        }
    }

    #[test]
    fn a_line_in_the_other_sense_is_turned() {
        let turned = turned(&line(-0.05, 60));
        let knowledge = Knowledge {
            either_sense: true,
            ..Knowledge::default()
        };
        let found = first(&turned, 40, &knowledge)
            .expect("a line")
            .expect("enough");
        assert!(found.measured.turned);
        assert!((found.measured.bias.value + 0.05).abs() < 1e-6);
    }

    #[test]
    fn too_little_is_waited_for() {
        assert_eq!(first(&line(0.0, 20), 100, &Knowledge::default()), Ok(None));
        assert!(first(&[], 5, &Knowledge::default()).is_err());
    }
}
