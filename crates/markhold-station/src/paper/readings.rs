//! Of the early and the final reading of each character, the one to send.
//!
//! A receiver reads every character twice: early, a moment after it was sent, and finally,
//! some seconds later, when what follows has been weighed too. A machine that prints along
//! cannot take a character back, so somebody has to say how long the better reading is
//! worth waiting for.
//!
//! Both readings of a character have one id, and ids come in the order of the signal's time.
//! A final reading says everything about what has a lower id: an early one there that had no
//! final one was no character.

use markhold_event::CharacterId;
use std::collections::VecDeque;

/// Readings that were sent and turned out otherwise. They are on paper; the archive has the
/// better ones.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Unlike {
    /// Sent early, and read otherwise in the end.
    pub changed: u64,
    /// Sent early, and no character in the end.
    pub unconfirmed: u64,
    /// Characters of the final reading that came too late to be sent in their place.
    pub missed: u64,
}

impl Unlike {
    /// Both together.
    pub fn plus(self, other: Unlike) -> Unlike {
        Unlike {
            changed: self.changed + other.changed,
            unconfirmed: self.unconfirmed + other.unconfirmed,
            missed: self.missed + other.missed,
        }
    }
}

/// An early reading that waits for its better one.
#[derive(Clone, Debug, PartialEq)]
struct Waiting<T> {
    id: CharacterId,
    due_s: f64,
    reading: T,
}

/// Chooses readings.
#[derive(Clone, Debug)]
pub struct Readings<T> {
    // Configured.
    patience_s: f64,
    // State.
    waiting: VecDeque<Waiting<T>>,
    /// Early readings that were sent and have no final one yet.
    sent: VecDeque<(CharacterId, T)>,
    /// The latest character given.
    given: Option<CharacterId>,
    unlike: Unlike,
}

impl<T: Clone + PartialEq> Readings<T> {
    /// With this patience, s: 0 sends every early reading at once, infinity waits for every
    /// final one. Below 0 or no number counts as 0.
    pub fn new(patience_s: f64) -> Self {
        Readings {
            patience_s: patience_s.max(0.0),
            waiting: VecDeque::new(),
            sent: VecDeque::new(),
            given: None,
            unlike: Unlike::default(),
        }
    }

    /// Has this patience from here on, s; what waits already keeps its time.
    pub fn set_patience(&mut self, patience_s: f64) {
        self.patience_s = patience_s.max(0.0);
    }

    /// An early reading of a character has come at `now_s`.
    pub fn early(&mut self, reading: T, id: CharacterId, now_s: f64, give: &mut impl FnMut(T)) {
        if Some(id) > self.waiting.back().map(|w| w.id).max(self.given) {
            self.waiting.push_back(Waiting {
                id,
                due_s: now_s + self.patience_s,
                reading,
            });
        }
        self.pass(now_s, give);
    }

    /// The final reading of a character has come.
    pub fn last(&mut self, reading: T, id: CharacterId, give: &mut impl FnMut(T)) {
        while front_if(&mut self.waiting, |w| w.id <= id).is_some() {}
        self.settle(|sent| sent < id);
        if let Some(sent) = front_if(&mut self.sent, |sent| sent.0 == id) {
            self.unlike.changed += u64::from(sent.1 != reading);
        } else if Some(id) > self.given {
            self.given = Some(id);
            give(reading);
        } else {
            self.unlike.missed += 1;
        }
    }

    /// Time has come to `now_s`: early readings that waited long enough are given.
    pub fn pass(&mut self, now_s: f64, give: &mut impl FnMut(T)) {
        while let Some(due) = front_if(&mut self.waiting, |w| w.due_s <= now_s) {
            self.given = Some(due.id);
            self.sent.push_back((due.id, due.reading.clone()));
            give(due.reading);
        }
    }

    /// The signal ended; early readings that still wait were never confirmed and are
    /// dropped. What comes next belongs to another signal, or another sound.
    pub fn end(&mut self) {
        self.waiting.clear();
        self.settle(|_| true);
        self.given = None;
    }

    /// What was sent and turned out otherwise, so far.
    pub fn unlike(&self) -> Unlike {
        self.unlike
    }

    /// No final reading of these comes any more.
    fn settle(&mut self, these: impl Fn(CharacterId) -> bool) {
        while front_if(&mut self.sent, |sent| these(sent.0)).is_some() {
            self.unlike.unconfirmed += 1;
        }
    }
}

/// Takes the first one off, if it is such a one.
fn front_if<T>(queue: &mut VecDeque<T>, such: impl Fn(&T) -> bool) -> Option<T> {
    if such(queue.front()?) {
        queue.pop_front()
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Readings as they come: time of arrival, id, whether final.
    type Coming = (f64, u32, bool, char);

    fn given(patience_s: f64, coming: &[Coming]) -> (String, Unlike) {
        let mut readings = Readings::new(patience_s);
        let mut text = String::new();
        let give = &mut |c| text.push(c);
        for &(now_s, id, last, c) in coming {
            readings.pass(now_s, give);
            match last {
                true => readings.last(c, CharacterId(id), give),
                false => readings.early(c, CharacterId(id), now_s, give),
            }
        }
        readings.end();
        (text, readings.unlike())
    }

    /// A is heard early at 0.2 and finally at 2.0, B at 0.4 and 2.2; the early B is wrong.
    const TWO: [Coming; 4] = [
        (0.2, 0, false, 'A'),
        (0.4, 16, false, 'X'),
        (2.0, 0, true, 'A'),
        (2.2, 16, true, 'B'),
    ];

    #[test]
    fn patience_buys_the_better_reading() {
        assert_eq!(given(0.0, &TWO).0, "AX");
        assert_eq!(given(0.0, &TWO).1.changed, 1);
        assert_eq!(given(3.0, &TWO), ("AB".into(), Unlike::default()));
        // 1.7 s: the early X is due at 2.1, before its final reading.
        assert_eq!(given(1.7, &TWO).0, "AX");
        assert_eq!(given(1.81, &TWO).0, "AB");
        assert_eq!(given(f64::INFINITY, &TWO).0, "AB");
        assert_eq!(given(f64::NAN, &TWO).0, "AX");
    }

    #[test]
    fn what_only_one_reading_holds() {
        // The early reading sees a character that the final one does not.
        let false_one: [Coming; 3] = [
            (0.2, 0, false, 'X'),
            (0.4, 16, false, 'A'),
            (2.2, 16, true, 'A'),
        ];
        assert_eq!(given(9.0, &false_one), ("A".into(), Unlike::default()));
        let (text, unlike) = given(0.0, &false_one);
        assert_eq!((text.as_str(), unlike.unconfirmed), ("XA", 1));
        // The final reading sees one more, in front of one that was sent.
        let one_more: [Coming; 3] = [
            (0.4, 16, false, 'B'),
            (2.0, 0, true, 'A'),
            (2.2, 16, true, 'B'),
        ];
        assert_eq!(given(9.0, &one_more), ("AB".into(), Unlike::default()));
        let (text, unlike) = given(0.0, &one_more);
        assert_eq!((text.as_str(), unlike.missed), ("B", 1));
    }

    #[test]
    fn final_readings_alone_are_enough() {
        let coming: Vec<Coming> = "GOOD EVENING"
            .chars()
            .enumerate()
            .map(|(k, c)| (0.0, k as u32, true, c))
            .collect();
        assert_eq!(given(0.0, &coming).0, "GOOD EVENING");
    }

    #[test]
    fn early_readings_without_a_final_one_do_not_print_at_the_end() {
        assert_eq!(given(1.0, &[(0.2, 0, false, 'X')]).0, "");
    }

    proptest! {
        /// Characters every 0.15 s, each heard early and finally, a few only in one of the
        /// two and some unlike; the final reading comes 2 s later.
        #[test]
        fn laws(
            heard in prop::collection::vec(0u8..20, 0..60),
            patience_s in prop_oneof![Just(0.0), 0.0f64..3.0, Just(9.0)],
        ) {
            let mut coming: Vec<Coming> = Vec::new();
            let mut finals = String::new();
            for (k, kind) in heard.iter().enumerate() {
                let (id, start_s) = (k as u32, k as f64 * 0.15);
                let letter = char::from(b'A' + (k % 26) as u8);
                if *kind != 0 {
                    let early = if *kind == 1 { 'x' } else { letter };
                    coming.push((start_s + 0.2, id, false, early));
                }
                if *kind != 2 {
                    coming.push((start_s + 2.2, id, true, letter));
                    finals.push(letter);
                }
            }
            coming.sort_by(|a, b| a.0.total_cmp(&b.0));
            let (text, unlike) = given(patience_s, &coming);
            // Waiting longer than the next final reading takes gives the final readings: it
            // comes the later the more characters before it were only heard early.
            let unconfirmed = heard.split(|kind| *kind != 2).map(<[_]>::len).max().unwrap_or(0);
            if patience_s > 2.15 + 0.15 * unconfirmed as f64 {
                prop_assert_eq!(&text, &finals);
                prop_assert_eq!(unlike, Unlike::default());
            }
            // Every character is given once, except what is counted. Early readings that
            // nothing final follows are dropped or unconfirmed.
            let given = text.len() as u64;
            prop_assert_eq!(given + unlike.missed - unlike.unconfirmed, finals.len() as u64);
        }
    }
}
