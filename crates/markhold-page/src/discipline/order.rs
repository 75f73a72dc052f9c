//! Orders: what is to be done to the line, one after the other.

use markhold_code::{Code, StartStop};

/// One thing to do to a machine's line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Order {
    /// Send this code.
    Send(Code),
    /// Hold the line in mark for so many seconds.
    Hold(f64),
    /// Switch the motor.
    Motor(bool),
}

impl Order {
    /// How long it takes, s.
    pub fn lasts_s(self, speed: StartStop) -> f64 {
        match self {
            Order::Send(_) => speed.character_s(),
            Order::Hold(seconds) => seconds,
            Order::Motor(_) => 0.0,
        }
    }
}

/// Where a code comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Source {
    /// When the character was sent, s.
    pub at_s: f64,
    /// Its probability, 0 to 1.
    pub probability: f32,
    /// Whether it is doubtful.
    pub doubtful: bool,
}

/// An order and the character of copy that it prints.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ordered {
    /// What to do.
    pub order: Order,
    /// The character of copy; `None` for everything that the discipline adds, and for
    /// spaces, which it lays out itself.
    pub source: Option<Source>,
}

/// The codes of these orders with the times at which they begin, s, when the orders are
/// played one after the other from 0.
pub fn timed<'a>(
    orders: impl IntoIterator<Item = &'a Ordered>,
    speed: StartStop,
) -> impl Iterator<Item = (f64, Code, Option<Source>)> {
    let mut next_s = 0.0;
    orders.into_iter().filter_map(move |ordered| {
        let at_s = next_s;
        next_s += ordered.order.lasts_s(speed);
        match ordered.order {
            Order::Send(code) => Some((at_s, code, ordered.source)),
            _ => None,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn orders_follow_each_other() {
        let orders = [
            Order::Motor(true),
            Order::Hold(1.5),
            Order::Send(Code::LETTERS),
            Order::Send(Code::SPACE),
        ]
        .map(|order| Ordered {
            order,
            source: None,
        });
        let times: Vec<f64> = timed(&orders, StartStop::new(50.0, 1.5))
            .map(|t| t.0)
            .collect();
        assert_eq!(times, [1.5, 1.65]);
    }
}
