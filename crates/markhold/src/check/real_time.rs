//! Whether the system gives a thread a place before other programs.

use super::finding::{Finding, Part, Verdict};
use super::needed::Needed;
use markhold_wire::ask_for_real_time;

/// Asks in a thread that ends at once.
pub fn look(needed: &Needed) -> Finding {
    let given = std::thread::spawn(ask_for_real_time).join();
    told(given.unwrap_or(false), needed)
}

fn told(given: bool, needed: &Needed) -> Finding {
    let finding = |found: &str| Finding::good(Part::RealTime, found).with("given", given);
    match (given, needed.by_clock.first()) {
        (true, _) => finding("given: a line can be keyed by the clock"),
        (false, None) => finding("not given, and nothing that is set is keyed by the clock"),
        (false, Some(who)) => finding(&format!("not given, and {who} is keyed by the clock")).but(
            Verdict::Remark,
            "edges may be late on a busy computer. As root write the two lines \"@dialout - rtprio \
             99\" and \"@dialout - memlock unlimited\" to a file in /etc/security/limits.d, be in \
             that group, log in again; then markhold machine NAME --trial measures it",
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_matters_where_a_line_is_keyed_by_the_clock() {
        let by_clock = Needed {
            by_clock: vec!["[machine.shack]".into()],
            ..Needed::default()
        };
        assert_eq!(told(true, &by_clock).verdict, Verdict::Good);
        assert_eq!(told(false, &Needed::default()).verdict, Verdict::Good);
        let finding = told(false, &by_clock);
        assert_eq!(finding.verdict, Verdict::Remark);
        assert!(finding.cure.expect("a cure").contains("limits.d"));
    }
}
