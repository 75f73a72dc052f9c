//! The choice: which of the signals at hand is the one to report.

use crate::event::SignalId;

/// How long the choice of the strongest waits after the first find, s: three looks at the
/// band, in which all that stands out is tried.
pub const CHOICE_S: f64 = 0.75;
/// Another signal takes over when it is this many times stronger than the chosen one, and has
/// been for so long, s.
const TAKE_OVER: f32 = 4.0;
const TAKE_OVER_S: f64 = 2.0;

/// A signal that may be chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Offer {
    /// Its name.
    pub id: SignalId,
    /// When it was found, s.
    pub found_s: f64,
    /// How much speaks for it: its power, or how near it lies to a forced place.
    pub weight: f32,
    /// How long it waits for a better one, s.
    pub waits_s: f64,
}

impl Offer {
    /// Whether so much more speaks for it that it takes over.
    pub fn outweighs(&self, current: &Self) -> bool {
        self.weight > TAKE_OVER * current.weight
    }
}

/// The signal that is chosen at `now_s`, given the one that was until now; with `last` there
/// is nothing to wait for.
pub fn choose(
    offers: &[Offer],
    chosen: Option<SignalId>,
    now_s: f64,
    last: bool,
) -> Option<SignalId> {
    let strongest = offers.iter().max_by(|a, b| a.weight.total_cmp(&b.weight));
    let Some(strongest) = strongest else {
        return chosen;
    };
    let has_waited = |offer: &Offer, wait_s: f64| now_s - offer.found_s >= wait_s;
    let takes_over = match offers.iter().find(|o| Some(o.id) == chosen) {
        None => last || offers.iter().any(|o| has_waited(o, o.waits_s)),
        Some(current) => strongest.outweighs(current) && has_waited(strongest, TAKE_OVER_S),
    };
    if takes_over {
        Some(strongest.id)
    } else {
        chosen
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn offers(list: &[(f64, f32)]) -> Vec<Offer> {
        (1..)
            .zip(list)
            .map(|(id, (found_s, weight))| Offer {
                id: SignalId(id),
                found_s: *found_s,
                weight: *weight,
                waits_s: CHOICE_S,
            })
            .collect()
    }

    #[test]
    fn the_choice_waits_and_takes_the_strongest() {
        let offers = offers(&[(5.0, 1.0), (5.25, 3.0), (5.5, 2.0)]);
        assert_eq!(choose(&offers, None, 5.7, false), None);
        assert_eq!(choose(&offers, None, 5.75, false), Some(SignalId(2)));
    }

    #[test]
    fn the_end_waits_for_nothing() {
        let offers = offers(&[(5.0, 1.0)]);
        assert_eq!(choose(&offers, None, 5.1, true), Some(SignalId(1)));
    }

    #[test]
    fn only_a_much_stronger_signal_takes_over_and_not_at_once() {
        let (first, second) = (Some(SignalId(1)), Some(SignalId(2)));
        let a_little = offers(&[(5.0, 1.0), (8.0, 3.9)]);
        assert_eq!(choose(&a_little, first, 20.0, false), first);
        let much = offers(&[(5.0, 1.0), (20.0, 4.1)]);
        assert_eq!(choose(&much, first, 21.9, false), first);
        assert_eq!(choose(&much, first, 22.0, false), second);
    }

    #[test]
    fn a_signal_that_is_gone_makes_room() {
        let gone = Some(SignalId(9));
        assert_eq!(
            choose(&offers(&[(5.0, 1.0)]), gone, 8.0, false),
            Some(SignalId(1))
        );
        assert_eq!(choose(&[], gone, 8.0, false), gone);
    }
}
