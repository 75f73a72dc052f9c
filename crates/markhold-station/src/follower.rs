//! Following a board without losing copy.

use crate::board::Board;
use crate::report::Report;
use crate::snapshot::Snapshot;
use crate::subscription::{Delivery, Subscription};
use markhold_event::Event;
use std::collections::VecDeque;
use std::sync::Arc;

/// Follows what one board tells. Of what it was too slow for it misses pictures, first readings
/// and news of the input only: decided characters, settings and the state of printing are made
/// up for from the sum of all reports.
pub struct Follower {
    board: Board,
    reports: Subscription,
    /// What is given before anything else.
    before: VecDeque<Arc<Report>>,
    /// Decided characters that were given, or told before this began.
    given: u64,
}

/// Decided characters told so far.
fn decided(sum: &Snapshot) -> u64 {
    sum.sheet_dropped + sum.sheet.len() as u64
}

impl Follower {
    /// Follows from here on.
    pub fn new(board: &Board) -> Self {
        let (sum, reports) = board.join();
        Follower {
            board: board.clone(),
            reports,
            before: VecDeque::new(),
            given: decided(&sum),
        }
    }

    /// Follows from the start on, as far as the board still knows it.
    pub fn from_the_start(board: &Board) -> Self {
        let (mut sum, reports) = board.join();
        let inputs = std::mem::take(&mut sum.inputs);
        let mut follower = Follower {
            board: board.clone(),
            reports,
            before: VecDeque::new(),
            given: 0,
        };
        follower.make_up(sum);
        for input in inputs.into_iter().rev() {
            let report = Arc::new(Report::Input(input));
            follower.before.push_front(report);
        }
        follower
    }

    /// The next report if there is one already.
    pub fn poll(&mut self) -> Option<Arc<Report>> {
        self.next(Subscription::poll)
    }

    /// Waits for the next report; `None` when there will be no more. Not to be called in an
    /// async task.
    pub fn wait(&mut self) -> Option<Arc<Report>> {
        self.next(Subscription::wait)
    }

    fn next(&mut self, next: fn(&mut Subscription) -> Option<Delivery>) -> Option<Arc<Report>> {
        loop {
            let report = match self.before.pop_front() {
                Some(report) => report,
                None => match next(&mut self.reports)? {
                    Delivery::Report(report) => report,
                    Delivery::Missed(_) => {
                        self.catch_up();
                        continue;
                    }
                },
            };
            if let Report::Event(Event::Character(_)) = &*report {
                self.given += 1;
            }
            return Some(report);
        }
    }

    fn catch_up(&mut self) {
        let (sum, reports) = self.board.join();
        self.reports = reports;
        self.make_up(sum);
    }

    fn make_up(&mut self, sum: Snapshot) {
        let missed = decided(&sum).saturating_sub(self.given) as usize;
        let from = sum.sheet.len().saturating_sub(missed);
        self.given = decided(&sum) - (sum.sheet.len() - from) as u64;
        let characters = sum.sheet.into_iter().skip(from);
        self.before = [Report::Settings(sum.in_use), Report::Paper(sum.paper)]
            .into_iter()
            .chain(characters.map(|c| Report::Event(Event::Character(c))))
            .map(Arc::new)
            .collect();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::paper::testing::character;
    use crate::subscription::WAITING;

    fn starts(follower: &mut Follower) -> Vec<f64> {
        let reports = std::iter::from_fn(|| follower.poll());
        let starts = reports.filter_map(|report| match &*report {
            Report::Event(Event::Character(character)) => Some(character.start_s),
            _ => None,
        });
        starts.collect()
    }

    #[test]
    fn no_character_is_missed_and_none_comes_twice() {
        let board = Board::default();
        let tell = |number: usize| {
            // Of several signals, so that times go forth and back.
            let start_s = (number * 7 % 5) as f64 + number as f64;
            let event = Event::Character(character(number as u32 % 3, start_s, 'A'));
            board.tell(Report::Event(event));
            start_s
        };
        let before: Vec<f64> = (0..10).map(tell).collect();
        let mut whole = Follower::from_the_start(&board);
        let mut late = Follower::new(&board);
        let few: Vec<f64> = (10..15).map(tell).collect();
        assert_eq!(starts(&mut late), few);
        let many: Vec<f64> = (15..15 + 2 * WAITING).map(tell).collect();
        assert_eq!(starts(&mut late), many);
        assert_eq!(starts(&mut whole), [before, few, many].concat());
        board.close();
        assert!(late.wait().is_none());
    }
}
