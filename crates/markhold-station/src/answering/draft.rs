//! Text typed ahead: what has gone, and what waits.

use markhold_wire::transmit::{Given, TextGiven};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};

/// Most that may wait, characters: half an hour at 45.45 baud.
const MOST: usize = 10_000;
/// Gone characters that are shown.
const SHOWN: usize = 4000;
/// An over in which nothing was typed for so long ends, s.
const QUIET_S: f64 = 20.0;
/// Left of the longest over for the rest of a word, the call and mark, s.
const RESERVE_S: f64 = 20.0;

/// What becomes of what waits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Pace {
    #[default]
    Go,
    /// Sent, and nothing more is waited for.
    Ends,
    Pause,
    Finish,
}

/// The text.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Draft {
    /// Characters that have gone, and the latest of them.
    pub gone: u64,
    pub latest: VecDeque<char>,
    pub waiting: VecDeque<char>,
    /// Characters that were typed at the machine, ever.
    pub typed: u64,
    pub pace: Pace,
    /// Since when nothing was there to send, s of the over.
    quiet_s: Option<f64>,
    line_ended: bool,
}

impl Draft {
    /// Another over begins, at this pace.
    pub fn begin(&mut self, pace: Pace) {
        self.pace = pace;
        (self.quiet_s, self.line_ended) = (None, false);
    }

    /// Puts another text in the place of what waits. What has gone meanwhile stays gone, and what
    /// was typed at the machine after `typed` of it stays behind the text; `None` = whoever wrote
    /// the text knew all of it.
    ///
    /// # Errors
    ///
    /// Too long, or written after more than has gone.
    pub fn write(&mut self, gone: u64, typed: Option<u64>, text: &str) -> Result<(), String> {
        let Some(meanwhile) = self.gone.checked_sub(gone) else {
            return Err("that was written after a text of which less has gone".into());
        };
        let plain = |c: &char| *c == '\n' || !c.is_control();
        let unknown = self.typed.saturating_sub(typed.unwrap_or(self.typed));
        let unknown = self.waiting.len().min(unknown as usize);
        let behind = self.waiting.range(self.waiting.len() - unknown..);
        let all: VecDeque<char> = text
            .chars()
            .filter(plain)
            .skip(meanwhile as usize)
            .chain(behind.copied())
            .collect();
        check_length(all.len())?;
        self.waiting = all;
        Ok(())
    }

    /// Somebody at the machine typed this; it waits behind all else.
    ///
    /// # Errors
    ///
    /// Too much waits.
    pub fn typed(&mut self, text: &str) -> Result<(), String> {
        let count = text.chars().count();
        check_length(self.waiting.len() + count)?;
        self.waiting.extend(text.chars());
        self.typed += count as u64;
        Ok(())
    }

    fn next(&mut self, at_s: f64, longest_s: f64) -> Given {
        let over = at_s > longest_s - RESERVE_S;
        if self.line_ended || (over && self.latest.back().is_none_or(|c| c.is_whitespace())) {
            return Given::End;
        }
        let c = match self.pace {
            Pace::Pause => None,
            _ => self.waiting.pop_front(),
        };
        let Some(c) = c else {
            let since_s = *self.quiet_s.get_or_insert(at_s);
            let ends =
                matches!(self.pace, Pace::Finish | Pace::Ends) || over || at_s - since_s > QUIET_S;
            return if ends { Given::End } else { Given::NotYet };
        };
        self.quiet_s = None;
        self.line_ended = self.pace == Pace::Finish && c == '\n';
        self.gone += 1;
        self.latest.push_back(c);
        if self.latest.len() > SHOWN {
            self.latest.pop_front();
        }
        Given::Char(c)
    }
}

fn check_length(found: usize) -> Result<(), String> {
    match found > MOST {
        true => Err(format!("{found} characters would wait, at most {MOST} may")),
        false => Ok(()),
    }
}

/// The text as an over takes it.
pub(super) struct Typing {
    pub draft: Arc<Mutex<Draft>>,
    pub longest_s: f64,
}

impl TextGiven for Typing {
    fn next(&mut self, at_s: f64) -> Given {
        let draft = self.draft.lock();
        let mut draft = draft.unwrap_or_else(std::sync::PoisonError::into_inner);
        draft.next(at_s, self.longest_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn draft(text: &str) -> Draft {
        let mut draft = Draft::default();
        draft.write(0, None, text).unwrap();
        draft
    }

    fn gone(draft: &mut Draft, at_s: f64) -> String {
        let mut text = String::new();
        while let Given::Char(c) = draft.next(at_s, 300.0) {
            text.push(c);
        }
        text
    }

    #[test]
    fn what_has_gone_is_fixed_and_what_waits_is_not() {
        let mut draft = draft("GOOD EVENNIG");
        for _ in 0..5 {
            draft.next(0.0, 300.0);
        }
        // Written when three had gone: the two that went meanwhile stay as they went.
        draft.write(3, None, "XX EVENING ALL").unwrap();
        assert_eq!(gone(&mut draft, 0.0), " EVENING ALL");
        assert_eq!(draft.latest.iter().collect::<String>(), "GOOD  EVENING ALL");
        assert!(
            draft
                .write(99, None, "X")
                .unwrap_err()
                .contains("less has gone")
        );
        assert!(
            draft
                .write(17, None, &"X".repeat(MOST + 1))
                .unwrap_err()
                .contains("10000 may")
        );
        draft.write(17, None, "A\u{7}\tB").unwrap();
        assert_eq!(gone(&mut draft, 0.0), "AB");
    }

    /// A page writes what it knows of; what was typed at the machine meanwhile is not lost by it.
    #[test]
    fn the_page_and_the_machine_write_into_one_text() {
        let mut draft = draft("CQ ");
        draft.typed("DE ").unwrap();
        draft.write(0, Some(0), "CQ CQ ").unwrap();
        draft.typed("Q1").unwrap();
        draft.write(0, Some(3), "CQ CQ DE ").unwrap();
        assert_eq!(draft.waiting.iter().collect::<String>(), "CQ CQ DE Q1");
        // Ten went, one of them typed; the page knew of none of the last two.
        for _ in 0..10 {
            draft.next(0.0, 300.0);
        }
        draft.write(0, Some(3), "CQ CQ DE ").unwrap();
        assert_eq!(gone(&mut draft, 0.0), "1");
        draft.typed("A").unwrap();
        draft.write(11, None, "").unwrap();
        assert!(
            draft.waiting.is_empty(),
            "whoever knows of all takes all back"
        );
        assert!(draft.typed(&"X".repeat(MOST + 1)).is_err());
    }

    #[test]
    fn pause_goes_on_and_finish_ends_with_the_line() {
        let mut draft = draft("ONE\nTWO");
        draft.pace = Pace::Pause;
        assert_eq!(draft.next(0.0, 300.0), Given::NotYet);
        draft.pace = Pace::Finish;
        assert_eq!(gone(&mut draft, 0.0), "ONE\n");
        assert_eq!(draft.next(0.0, 300.0), Given::End);
        draft.begin(Pace::Ends);
        assert_eq!(gone(&mut draft, 0.0), "TWO");
        assert_eq!(draft.next(0.0, 300.0), Given::End);
    }

    #[test]
    fn an_over_ends_when_nothing_is_typed_or_its_time_is_near() {
        let mut draft = draft("A");
        assert_eq!(draft.next(5.0, 300.0), Given::Char('A'));
        assert_eq!(draft.next(6.0, 300.0), Given::NotYet);
        assert_eq!(draft.next(26.1, 300.0), Given::End);
        draft.write(1, None, "BC DE").unwrap();
        draft.begin(Pace::Go);
        // The word goes to its end.
        assert_eq!(gone(&mut draft, 281.0), "BC ");
        assert_eq!(draft.next(281.0, 300.0), Given::End);
    }
}
