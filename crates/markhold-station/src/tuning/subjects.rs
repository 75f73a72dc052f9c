//! Whom the dial is turned for: one sender, until it has long gone.
//!
//! Only a pair whose tones plainly take turns becomes the subject, at once if the receiver follows
//! it; a neighbour's Morse beside an idle mark does not, nor a place that the receiver has not let
//! go of since the dial was turned. It stays the subject through pauses, in
//! which it idles or is silent, and through turns of the dial, in which its tones move
//! together. Another sender becomes the subject when this one has been silent for a while, or
//! when the receiver reads that one and this one is not there.

use super::candidate::Candidate;
use super::subject::{FollowedNow, MOVED_HZ, SAME_HZ, Subject};
use crate::instruments::spectra::PER_SECOND;

/// Read well: the mean probability of the latest characters is at least this. Below it a
/// line of text has several doubtful words.
const GOOD: f32 = 0.8;
/// Characters after which that mean says something.
const CHARACTERS: u64 = 5;
/// And the latest of them is no older than this, s: a decided character waits for those after
/// it, and people who type pause.
const LATE_S: f64 = 12.0;
/// A silent subject gives way to another sender after this, s: longer than a pause within an
/// over, shorter than one's patience at a dial.
const SILENT_S: f64 = 8.0;
/// A tone is there when it was in one of the latest spectra, s.
const THERE_S: f64 = 0.1;
/// For so long after a turn the receiver may follow, and read, a place of before it, s.
const STALE_S: f64 = 15.0;
/// Moved tones are believed after so many spectra in a row, 120 ms: a neighbour's dot may look
/// like them for one.
const MOVED_FOR: u32 = 3 * PER_SECOND / 25;
/// Two take turns when one comes back after the other, and was heard no longer ago than this, s:
/// an over of some minutes.
const OVER_S: f64 = 300.0;
/// Tones that turn up elsewhere after such a pause may be another sender's, s; a dial that is
/// turned is seen within two spectra.
const PAUSE_S: f64 = 0.5;

/// What is heard of pairs at this moment.
pub struct Heard<'a> {
    /// Now, s.
    pub now_s: f64,
    /// The pair of the fast sight, lower tone first, Hz.
    pub pair_hz: Option<[f64; 2]>,
    /// Power of both its tones together, as they stand out now.
    pub pair_power: f32,
    /// Whether the tones at two places, Hz, take turns beyond chance, of late.
    pub is_one_sender: &'a dyn Fn([f64; 2]) -> bool,
    /// What the receiver follows, the copied one first.
    pub followed: Option<FollowedNow>,
    /// Whether both its tones are heard of late: the receiver takes seconds to let go of a place.
    pub is_followed_heard: bool,
    /// Whether a tone stands at a place, Hz, at this moment.
    pub is_there: &'a dyn Fn(f64) -> bool,
    /// Whether there is a tone at a place, Hz, of late.
    pub is_tone: &'a dyn Fn(f64) -> bool,
}

/// Holds the subject.
#[derive(Clone, Debug, Default)]
pub struct Subjects {
    // state
    subject: Option<Subject>,
    /// The one before: its tones, lower first, Hz, and when it was heard last, s.
    before: Option<([f64; 2], f64)>,
    /// When one of two that take turns came back last, s.
    came_back_s: Option<f64>,
    moved_for: u32,
    candidate: Candidate,
    turned_s: Option<f64>,
    /// Characters of the followed signal so far, and when the latest came, s.
    characters: u64,
    character_s: f64,
}

impl Subjects {
    /// Takes what is heard; the subject, and by how much its tones were moved just now, Hz, if the dial
    /// was turned.
    pub fn process(&mut self, heard: &Heard) -> (Option<Subject>, Option<f64>) {
        let is_read = self.is_read(heard);
        let moved_hz = self.turned(heard);
        if moved_hz.is_some() {
            self.turned_s = Some(heard.now_s);
        }
        let one = heard.pair_hz.filter(|pair| (heard.is_one_sender)(*pair));
        self.candidate.watch(one);
        self.choose(heard, is_read);
        if let Some(subject) = &mut self.subject {
            let followed = heard.followed.filter(|f| subject.is_at(f.tones_hz));
            subject.followed = followed;
            subject.is_read = is_read && followed.is_some();
            if subject.is_read {
                subject.sense = followed.map(|f| f.sense);
                subject.read_hz = Some(subject.middle_hz());
            }
            if subject.tones_hz.iter().any(|hz| (heard.is_tone)(*hz)) {
                subject.heard_s = heard.now_s;
            }
            if subject.tones_hz.iter().any(|hz| (heard.is_there)(*hz)) {
                subject.there_s = heard.now_s;
            }
            if heard.pair_hz.is_some_and(|pair| subject.is_at(pair)) {
                subject.note_power(heard.pair_power);
            }
            subject.follow(heard.pair_hz);
        }
        (self.subject, moved_hz)
    }

    /// Where the other one is of two senders that take turns at places of their own, lower tone first, Hz:
    /// neither is to be brought to the other's place, nor out of what the receiver lets through.
    pub fn takes_turns_with(&self, now_s: f64) -> Option<[f64; 2]> {
        let is_late = self.came_back_s.is_some_and(|s| now_s - s < OVER_S);
        self.before
            .filter(|_| is_late)
            .map(|(tones_hz, _)| tones_hz)
    }

    /// Whether the followed signal is read well.
    fn is_read(&mut self, heard: &Heard) -> bool {
        let Some(followed) = heard.followed else {
            return false;
        };
        if followed.characters != self.characters {
            self.characters = followed.characters;
            self.character_s = heard.now_s;
        }
        followed.characters >= CHARACTERS
            && followed.quality.is_some_and(|q| q >= GOOD)
            && heard.now_s - self.character_s < LATE_S
    }

    /// The dial was turned when tones as far apart as the subject's stand elsewhere and its own
    /// place is empty, as the sight sees it.
    fn turned(&mut self, heard: &Heard) -> Option<f64> {
        let subject = self.subject.as_mut()?;
        let elsewhere = heard.pair_hz.filter(|pair| {
            let middle_hz = 0.5 * (pair[0] + pair[1]);
            subject.is_like(*pair) && (middle_hz - subject.middle_hz()).abs() > MOVED_HZ
        });
        // Noise in a fade may have two tops as far apart.
        let is_strong = subject.is_as_strong(heard.pair_power);
        let elsewhere = elsewhere.filter(|pair| is_strong || (heard.is_one_sender)(*pair));
        let Some(pair) = elsewhere else {
            self.moved_for = 0;
            return None;
        };
        self.moved_for += 1;
        if self.moved_for < MOVED_FOR {
            return None;
        }
        let by_hz = 0.5 * (pair[0] + pair[1]) - subject.middle_hz();
        let paused = heard.now_s - subject.heard_s > PAUSE_S;
        if paused && !(heard.is_one_sender)(pair) {
            return None;
        }
        if paused {
            self.note_turn(pair, heard.now_s);
        } else if let Some((tones_hz, _)) = &mut self.before {
            tones_hz.iter_mut().for_each(|hz| *hz += by_hz);
        }
        let subject = self.subject.as_mut()?;
        (subject.tones_hz, subject.heard_s) = (pair, heard.now_s);
        subject.there_s = heard.now_s;
        Some(by_hz)
    }

    /// The pair of the receiver, if it is there: heard now, and either seen to take turns or read
    /// where the dial has stood for a while.
    fn followed(&self, heard: &Heard, is_read: bool) -> Option<[f64; 2]> {
        let tones_hz = heard.followed?.tones_hz;
        let is_fresh = self.turned_s.is_none_or(|s| heard.now_s - s > STALE_S);
        let is_there = (heard.is_one_sender)(tones_hz) || (is_read && is_fresh);
        (heard.is_followed_heard && is_there).then_some(tones_hz)
    }

    /// Who the subject is: another where there is none, it has gone, or it was never read and
    /// better evidence is there.
    fn choose(&mut self, heard: &Heard, is_read: bool) {
        let silent_s = self
            .subject
            .map_or(f64::INFINITY, |s| heard.now_s - s.heard_s);
        let is_unread = self.subject.is_some_and(|s| !s.is_readable());
        // It stands there, and is no sender at this moment.
        let turns = |s: Subject| (heard.is_one_sender)(s.tones_hz);
        let is_idle = silent_s < THERE_S && self.subject.is_some_and(|s| !turns(s));
        let other = match (self.followed(heard, is_read), self.candidate.pair_hz()) {
            // What is followed elsewhere takes over from one that is not heard.
            (Some(tones_hz), _) if silent_s > 1.0 || is_unread || is_idle => Some(tones_hz),
            (None, Some(tones_hz)) if silent_s > SILENT_S || (is_unread && is_idle) => {
                Some(tones_hz)
            }
            _ => None,
        };
        if let Some(tones_hz) = other
            && self.subject.is_none_or(|s| !s.is_at(tones_hz))
        {
            // Without a pause it is the same one, and the dial was turned.
            if silent_s > PAUSE_S {
                self.note_turn(tones_hz, heard.now_s);
            }
            self.subject = Some(Subject::new(tones_hz, heard.now_s));
        }
    }

    /// Another takes over; perhaps the one before came back.
    fn note_turn(&mut self, tones_hz: [f64; 2], now_s: f64) {
        let is_there = |place: [f64; 2]| (0..2).all(|k| (place[k] - tones_hz[k]).abs() < SAME_HZ);
        let came_back = self
            .before
            .is_some_and(|(place, s)| is_there(place) && now_s - s < OVER_S);
        if came_back {
            self.came_back_s = Some(now_s);
        }
        self.before = self.subject.map(|s| (s.tones_hz, s.heard_s));
    }
}

#[cfg(test)]
#[path = "subjects_tests.rs"]
mod tests;
