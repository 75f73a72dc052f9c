//! Pictures on their way to one browser: gathered, and held back when it does not paint.

use crate::frame::frame;
use markhold_station::instruments::{Instruments, LevelState, Row};
use std::collections::VecDeque;

/// Messages on the way that the browser has not painted yet; more are not sent. At 25 a
/// second this is two seconds, and a page that is not looked at gets nothing.
const AHEAD: u32 = 50;
/// Rows that wait at most: what a browser missed for longer, it missed.
const ROWS: usize = 300;
/// Points of the figure and traces of the eye that wait at most.
const POINTS: usize = 512;
const TRACES: usize = 16;

/// Pictures for one browser.
#[derive(Default)]
pub struct Pictures {
    rows: VecDeque<Row>,
    rest: Option<Instruments>,
    sent: u32,
    painted: u32,
}

impl Pictures {
    /// Pictures that begin with the rows of a snapshot.
    pub fn after(rows: VecDeque<Row>, latest: Instruments) -> Self {
        Self {
            rows,
            rest: Some(latest),
            ..Self::default()
        }
    }

    /// Gathers.
    pub fn add(&mut self, new: &Instruments) {
        self.rows.extend(new.rows.iter().cloned());
        let over = self.rows.len().saturating_sub(ROWS);
        self.rows.drain(..over);
        let mut new = Instruments {
            rows: Vec::new(),
            ..new.clone()
        };
        if let Some(old) = self.rest.take() {
            new.figure.splice(..0, old.figure);
            new.eye.splice(..0, old.eye);
            new.level.peak_db = new.level.peak_db.max(old.level.peak_db);
            new.level.clipped = new.level.clipped.saturating_add(old.level.clipped);
            if new.level.state == LevelState::Good && old.level.state == LevelState::Clipping {
                new.level.state = LevelState::Clipping;
            }
        }
        cut(&mut new.figure, POINTS);
        cut(&mut new.eye, TRACES);
        self.rest = Some(new);
    }

    /// The browser has painted everything up to this message.
    pub fn painted(&mut self, number: u32) {
        // What it cannot have seen is not believed.
        if number <= self.sent {
            self.painted = self.painted.max(number);
        }
    }

    /// The next message, if there is something to show and the browser keeps up.
    pub fn message(&mut self) -> Option<Vec<u8>> {
        if self.sent - self.painted >= AHEAD {
            return None;
        }
        let rest = self.rest.take()?;
        self.sent += 1;
        let message = frame(self.sent, &self.rows, &rest);
        self.rows.clear();
        Some(message)
    }
}

fn cut<T>(list: &mut Vec<T>, most: usize) {
    let over = list.len().saturating_sub(most);
    list.drain(..over);
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_station::instruments::{Level, ROW_BINS};

    fn picture(at_s: f64, state: LevelState) -> Instruments {
        let row = Row {
            at_s,
            db: vec![0; ROW_BINS],
        };
        Instruments {
            until_s: at_s,
            rows: vec![row],
            level: Level {
                state,
                clipped: 1,
                ..Level::default()
            },
            figure: vec![[1, 2]],
            ..Instruments::default()
        }
    }

    #[test]
    fn what_comes_quickly_goes_in_one_message() {
        let mut pictures = Pictures::default();
        assert_eq!(pictures.message(), None);
        pictures.add(&picture(1.0, LevelState::Clipping));
        pictures.add(&picture(2.0, LevelState::Good));
        let message = pictures.message().expect("something");
        assert_eq!((message[2], message[6]), (2, 2), "two rows, two points");
        assert_eq!(
            (message[32], message[36]),
            (2, 1),
            "nothing clipped is lost"
        );
        assert_eq!(pictures.message(), None);
    }

    #[test]
    fn a_browser_that_does_not_paint_gets_no_more() {
        let mut pictures = Pictures::default();
        let mut send = |painted: Option<u32>| {
            painted.into_iter().for_each(|n| pictures.painted(n));
            pictures.add(&picture(1.0, LevelState::Good));
            pictures.message().is_some()
        };
        let sent = (0..200).filter(|_| send(None)).count();
        assert_eq!(sent, AHEAD as usize);
        assert!(!send(Some(1000)), "what was never sent is not painted");
        assert!(send(Some(10)));
        for _ in 0..1000 {
            send(None);
        }
        assert!(pictures.rows.len() <= ROWS);
    }
}
