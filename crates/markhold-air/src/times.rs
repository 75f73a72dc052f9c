//! Where a sender's text and its tail end.

use crate::line::Characters;
use crate::sender::Sender;

/// Where a sender's text and its tail end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Times {
    /// A repeating sender's text ends here at the latest, s.
    pub(crate) text_until_s: f64,
    /// The tail of idle mark ends here, s.
    pub(crate) end_s: f64,
}

impl Times {
    /// The times of sender `index` of a scene that ends at `end_s`; `None` for one that repeats
    /// without end.
    pub(crate) fn of(sender: &Sender, end_s: Option<f64>, seed: u64, index: usize) -> Option<Self> {
        if sender.repeat {
            let end_s = end_s?;
            return Some(Times {
                text_until_s: end_s - sender.tail_s,
                end_s,
            });
        }
        let last = Characters::new(sender, f64::INFINITY, seed, index).last();
        let text_until_s = match last {
            Some(last) => last.start_s + sender.speed.character_s(),
            None => sender.begin_s + sender.lead_in_s,
        };
        Some(Times {
            text_until_s,
            end_s: text_until_s + sender.tail_s,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_code::FiguresRow;

    #[test]
    fn times_add_up() {
        let sender = Sender {
            begin_s: 2.0,
            ..Sender::of_text("RYRY", FiguresRow::Us).expect("fits")
        };
        let times = Times::of(&sender, None, 1, 0).expect("it ends");
        assert!((times.text_until_s - (3.0 + 4.0 * sender.speed.character_s())).abs() < 1e-9);
        assert!((times.end_s - times.text_until_s - 1.0).abs() < 1e-9);
        let forever = Sender {
            repeat: true,
            ..sender
        };
        assert_eq!(Times::of(&forever, None, 1, 0), None);
        assert_eq!(
            Times::of(&forever, Some(60.0), 1, 0),
            Some(Times {
                text_until_s: 59.0,
                end_s: 60.0
            })
        );
    }
}
