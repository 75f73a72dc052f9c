//! The page of orders as they are given.

use markhold_page::{Ink, Machine, Order, Ordered, Page, Printer};

/// Prints orders one after the other, as if the line were never idle.
pub struct Preview {
    // Configured.
    character_s: f64,
    // State.
    printer: Printer,
    next_s: f64,
}

impl Preview {
    pub fn new(machine: &Machine) -> Self {
        Preview {
            character_s: machine.speed().character_s(),
            printer: Printer::new(machine),
            next_s: 0.0,
        }
    }

    pub fn give(&mut self, orders: &[Ordered]) {
        for ordered in orders {
            match ordered.order {
                Order::Send(code) => {
                    let ink = ordered.source.map(|s| Ink::of(s.probability, s.doubtful));
                    self.printer
                        .receive_in(code, self.next_s, ink.unwrap_or_default());
                    self.next_s += self.character_s;
                }
                Order::Hold(seconds) => self.next_s += seconds,
                Order::Motor(_) => {}
            }
        }
    }

    pub fn page(&self) -> &Page {
        self.printer.page()
    }
}
