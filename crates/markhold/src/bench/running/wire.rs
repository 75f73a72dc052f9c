//! A status wire of a serial port, looked at again and again.

use super::{Counting, Errors, Gathered};
use crate::outcome::say;
use markhold_bench::Edge;
use markhold_wire::{PortWire, StatusWire, Watch, ask_for_real_time};
use std::time::Duration;

/// How long nothing may happen before that is said.
const QUIET: Duration = Duration::from_secs(10);

/// Measures the wire. Asserted is mark, as the current of a loop asserts it by its
/// opto-coupler; how well each transition is known is measured along with it.
pub fn watch(port: &str, wire: StatusWire, counting: &mut Counting) -> anyhow::Result<()> {
    let mut watch = Watch::new(PortWire::open(port, wire)?)?;
    // Without it looks are further apart, and the error that is told is larger.
    ask_for_real_time();
    counting.about.source = format!("{wire:?} of {port}");
    say(&format!("measuring {port}; Ctrl-C ends it"));
    let mut gathered = Gathered::new(counting.how.every);
    let mut gaps = Gaps::default();
    loop {
        let Some(seen) = watch.next(QUIET)? else {
            counting
                .complain("no transition for 10 s; is the line keyed, and the wire the right one?");
            continue;
        };
        gaps.count(seen.gap_s);
        let edge = Edge {
            at_s: seen.at_s,
            mark: seen.asserted,
        };
        if !gathered.add(edge, gaps.errors(), counting)? {
            return Ok(());
        }
    }
}

/// How far apart the looks before and after transitions were.
#[derive(Default)]
struct Gaps {
    squares: f64,
    count: f64,
    most_s: f64,
}

impl Gaps {
    fn count(&mut self, gap_s: f64) {
        self.squares += gap_s * gap_s;
        self.count += 1.0;
        self.most_s = self.most_s.max(gap_s);
    }

    /// A transition is anywhere between two looks.
    fn errors(&self) -> Errors {
        Errors {
            noise_s: (self.squares / self.count.max(1.0) / 12.0).sqrt(),
            worst_s: self.most_s / 2.0,
            systematic_s: 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_error_is_that_of_a_uniform_place_between_looks() {
        let mut gaps = Gaps::default();
        assert_eq!(gaps.errors().noise_s, 0.0);
        (0..100).for_each(|_| gaps.count(0.0012));
        assert!((gaps.errors().noise_s - 0.0012 / 12f64.sqrt()).abs() < 1e-12);
        gaps.count(0.004);
        assert_eq!(gaps.errors().worst_s, 0.002);
    }
}
