//! How an evening is kept now: a state, which ends when it stops being true.
//!
//! ```text
//!            first sound          an error
//!   Waiting ------------> Yes <------------> No { why, since }
//!                              written again
//!                          any of them ------> Failed { since }
//!                               a fault of the program: nothing writes any more
//! ```
//!
//! Sound and copy each have their own: raw sound goes to its files whatever the archive does.

use jiff::Timestamp;
use serde::ser::{Serialize, SerializeStruct, Serializer};

/// Whether something is kept now.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Kept {
    /// Nothing came yet that could be kept.
    #[default]
    Waiting,
    /// All that came.
    Yes,
    /// Not at present; it is tried again by itself.
    No {
        /// Why, in words that end without a full stop.
        why: String,
        /// Since when, by the computer's clock.
        since: Timestamp,
    },
    /// No more: the part of the program that writes it has failed, by a fault of the program.
    Failed {
        /// Since when, by the computer's clock.
        since: Timestamp,
    },
}

/// What is to be done about [`Kept::Failed`].
pub(crate) const FAILED: &str =
    "the part of this program that writes it has failed; end the program and start it again";

impl Kept {
    /// It is not kept from now on; if it was not before, since then. What failed stays so.
    pub(crate) fn refuse(&mut self, why: String, now: Timestamp) {
        let since = self.since().unwrap_or(now);
        if !matches!(self, Kept::Failed { .. }) {
            *self = Kept::No { why, since };
        }
    }

    /// Nothing writes it any more.
    pub(crate) fn fail(&mut self, now: Timestamp) {
        let since = self.since().unwrap_or(now);
        *self = Kept::Failed { since };
    }

    fn why(&self) -> Option<&str> {
        match self {
            Kept::No { why, .. } => Some(why),
            Kept::Failed { .. } => Some(FAILED),
            Kept::Waiting | Kept::Yes => None,
        }
    }

    fn since(&self) -> Option<Timestamp> {
        match self {
            Kept::No { since, .. } | Kept::Failed { since } => Some(*since),
            Kept::Waiting | Kept::Yes => None,
        }
    }

    /// What is done about it by itself, as the end of a sentence.
    fn tried(&self) -> &'static str {
        match self {
            Kept::No { .. } => ", trying again",
            _ => "",
        }
    }

    fn word(&self) -> &'static str {
        match self {
            Kept::Waiting => "waiting",
            Kept::Yes => "yes",
            Kept::No { .. } | Kept::Failed { .. } => "no",
        }
    }
}

/// How an evening is kept now, and where.
///
/// As JSON: `place`, `sound` and `copy` ("waiting", "yes", "no"), `words`, and `since`, which is
/// null while nothing is amiss.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct KeepState {
    /// The folder of the shelf.
    pub place: String,
    /// The raw sound, in files.
    pub sound: Kept,
    /// The copy, in the archive.
    pub copy: Kept,
}

impl KeepState {
    /// In a folder of a shelf where nothing is kept any more, from now on, by a fault of the program.
    pub fn failed(place: String) -> Self {
        let since = Timestamp::now();
        Self {
            place,
            sound: Kept::Failed { since },
            copy: Kept::Failed { since },
        }
    }

    /// Whether nothing is amiss.
    pub fn is_well(&self) -> bool {
        self.since().is_none()
    }

    /// Since when something is amiss; `None` while nothing is.
    pub fn since(&self) -> Option<Timestamp> {
        [self.sound.since(), self.copy.since()]
            .into_iter()
            .flatten()
            .min()
    }

    /// The state in a sentence or two, without the time.
    pub fn words(&self) -> String {
        match (self.sound.why(), self.copy.why()) {
            (None, None) => match &self.sound {
                Kept::Waiting => format!("To be kept in {}.", self.place),
                _ => format!("Kept in {}.", self.place),
            },
            (None, Some(why)) => match self.sound {
                Kept::Yes => format!("Sound is kept; copy is not: {why}{}.", self.copy.tried()),
                _ => format!("Copy is not kept: {why}{}.", self.copy.tried()),
            },
            (Some(why), None) => match self.copy {
                Kept::Yes => format!("Copy is kept; sound is not: {why}{}.", self.sound.tried()),
                _ => format!("Sound is not kept: {why}{}.", self.sound.tried()),
            },
            (Some(one), Some(other)) if one == other => {
                format!("Nothing is kept: {one}{}.", self.sound.tried())
            }
            (Some(one), Some(other)) => format!(
                "Nothing is kept. Sound: {one}{}. Copy: {other}{}.",
                self.sound.tried(),
                self.copy.tried()
            ),
        }
    }
}

impl Serialize for KeepState {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut object = to.serialize_struct("KeepState", 5)?;
        object.serialize_field("place", &self.place)?;
        object.serialize_field("sound", self.sound.word())?;
        object.serialize_field("copy", self.copy.word())?;
        object.serialize_field("words", &self.words())?;
        object.serialize_field("since", &self.since().map(|at| at.to_string()))?;
        object.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(second: i64) -> Timestamp {
        Timestamp::from_second(second).unwrap()
    }

    #[test]
    fn it_says_what_is_kept_and_what_is_not() {
        let mut state = KeepState {
            place: "/shelf".into(),
            ..KeepState::default()
        };
        assert_eq!(state.words(), "To be kept in /shelf.");
        state.sound = Kept::Yes;
        assert_eq!(state.words(), "Kept in /shelf.");
        state
            .copy
            .refuse("the archive is locked by another program".into(), at(50));
        assert_eq!(
            state.words(),
            "Sound is kept; copy is not: the archive is locked by another program, trying again."
        );
        state.sound.refuse("the disk is full".into(), at(60));
        assert_eq!(
            state.words(),
            "Nothing is kept. Sound: the disk is full, trying again. Copy: the archive is locked by \
             another program, trying again."
        );
        assert_eq!(state.since(), Some(at(50)));
        state.copy.refuse("the disk is full".into(), at(70));
        assert_eq!(
            state.words(),
            "Nothing is kept: the disk is full, trying again."
        );
        assert_eq!(
            state.since(),
            Some(at(50)),
            "another reason is no new beginning"
        );
        state.copy.fail(at(80));
        state.copy.refuse("the disk is full".into(), at(90));
        state.sound = Kept::Yes;
        assert_eq!(
            state.words(),
            "Sound is kept; copy is not: the part of this program that writes it has failed; end \
             the program and start it again."
        );
        (state.sound, state.copy) = (Kept::Yes, Kept::Yes);
        assert!(state.is_well() && state.words() == "Kept in /shelf.");
    }

    #[test]
    fn its_object_holds_what_a_page_needs() {
        let mut state = KeepState {
            place: "/shelf".into(),
            ..KeepState::default()
        };
        state.copy.refuse("the disk is full".into(), at(0));
        let object = serde_json::to_value(&state).unwrap();
        assert_eq!(
            object,
            serde_json::json!({
                "place": "/shelf", "sound": "waiting", "copy": "no", "words": state.words(),
                "since": "1970-01-01T00:00:00Z"
            })
        );
    }
}
