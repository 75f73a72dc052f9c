//! Whom the dial is turned for: one sender, until it has long gone.
//!
//! Only a pair whose tones plainly take turns becomes the subject, at once if the receiver follows
//! it; a neighbour's Morse beside an idle mark does not, nor a place that the receiver has not let
//! go of since the dial was turned. It stays the subject through pauses, in
//! which it idles or is silent, and through turns of the dial, in which its tones move
//! together. Another sender becomes the subject when this one has been silent for a while, or
//! when the receiver reads that one and this one is not there.

use crate::instruments::spectra::PER_SECOND;
use markhold_code::usual::SHIFTS_HZ;
use markhold_event::Sense;

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
/// The pair has moved when its middle is this far from where it was, Hz: more than a place
/// seems to wander by keying.
const MOVED_HZ: f64 = 25.0;
/// Two distances of tones are the same within this, Hz: two places, each some Hz off.
const SAME_SHIFT_HZ: f64 = 16.0;
/// Tones are at a place within this, Hz.
const SAME_HZ: f64 = 40.0;
/// For so many spectra in a row the tones of a pair must take turns before it is one's own, unless the
/// receiver follows it: 0.4 s at a usual distance that no sideband of keying has, else 2 s.
const USUAL_FOR: u32 = 2 * PER_SECOND / 5;
const ODD_FOR: u32 = 2 * PER_SECOND;
/// Sidebands of keying may be as far apart from their tone, Hz.
const SIDEBAND_HZ: f64 = 130.0;
/// A distance is a usual one within this, Hz: two places, each some Hz off.
const USUAL_HZ: f64 = 14.0;
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
/// How fast the place follows what is seen of it, share a spectrum: a hand that turns a little
/// is to see it at once, and the sight's own mean takes away what keying makes of it.
const FOLLOW: f64 = 0.2;
/// How fast its distance follows, share a spectrum: a sender keeps it, and while the dial is turned
/// an old tone may stand beside a new one.
const FOLLOW_SHIFT: f64 = 0.02;

/// What is heard of pairs at this moment.
pub struct Heard<'a> {
    /// Now, s.
    pub now_s: f64,
    /// The pair of the fast sight, lower tone first, Hz.
    pub pair_hz: Option<[f64; 2]>,
    /// Whether the tones at two places, Hz, take turns beyond chance, of late.
    pub is_one_sender: &'a dyn Fn([f64; 2]) -> bool,
    /// What the receiver follows, the copied one first.
    pub followed: Option<FollowedNow>,
    /// Whether both its tones are heard of late: the receiver takes seconds to let go of a place.
    pub is_followed_heard: bool,
    /// Whether there is a tone at a place, Hz, of late.
    pub is_tone: &'a dyn Fn(f64) -> bool,
}

/// The signal that the receiver follows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FollowedNow {
    /// Its tones, lower first, Hz.
    pub tones_hz: [f64; 2],
    /// Which is mark.
    pub sense: Sense,
    /// How the tones move, Hz of audio a minute.
    pub drift_hz_per_min: f64,
    /// Mean probability of its latest characters, 0 to 1; `None` before the first.
    pub quality: Option<f32>,
    /// Its characters so far.
    pub characters: u64,
}

/// The sender that the dial is turned for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Subject {
    /// Its tones, lower first, Hz.
    pub tones_hz: [f64; 2],
    /// What the receiver knows of it, if it follows it.
    pub followed: Option<FollowedNow>,
    /// Whether the receiver reads it well, now.
    pub is_read: bool,
    /// Which tone is mark, as it was when it was read well last.
    pub sense: Option<Sense>,
    /// Where its middle was then, Hz.
    pub read_hz: Option<f64>,
    /// When any of its tones was there last, s.
    pub heard_s: f64,
}

impl Subject {
    fn is_at(&self, pair_hz: [f64; 2]) -> bool {
        (0..2).all(|k| (self.tones_hz[k] - pair_hz[k]).abs() < SAME_HZ)
    }

    fn is_like(&self, [low, high]: [f64; 2]) -> bool {
        let [own_low, own_high] = self.tones_hz;
        ((high - low) - (own_high - own_low)).abs() < SAME_SHIFT_HZ
    }

    /// Whether it was read well where it is now.
    pub fn is_readable(&self) -> bool {
        let near = |hz: f64| (hz - self.middle_hz()).abs() < SAME_HZ;
        self.is_read || self.read_hz.is_some_and(near)
    }

    fn middle_hz(&self) -> f64 {
        0.5 * (self.tones_hz[0] + self.tones_hz[1])
    }
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
    /// Spectra since which a pair of the sight has been one sender at the same place, and where.
    one_for: u32,
    one_hz: [f64; 2],
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
        self.watch(heard);
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
            follow(subject, heard.pair_hz);
        }
        (self.subject, moved_hz)
    }

    /// Whether two senders at places of their own take turns: neither is to be brought to the
    /// other's place.
    pub fn take_turns(&self, now_s: f64) -> bool {
        self.came_back_s.is_some_and(|s| now_s - s < OVER_S)
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
        Some(by_hz)
    }

    /// For how long the pair of the sight has been one sender.
    fn watch(&mut self, heard: &Heard) {
        let one = heard.pair_hz.filter(|pair| (heard.is_one_sender)(*pair));
        let Some(pair) = one else {
            self.one_for = 0;
            return;
        };
        let stayed = (0..2).all(|k| (pair[k] - self.one_hz[k]).abs() < SAME_HZ);
        self.one_for = if stayed { self.one_for + 1 } else { 1 };
        self.one_hz = pair;
    }

    /// The pair of the sight, once it is plain that it is one sender.
    fn seen(&self) -> Option<[f64; 2]> {
        let apart_hz = self.one_hz[1] - self.one_hz[0];
        let near = |usual: f64| (usual - apart_hz).abs() < USUAL_HZ;
        let enough = match apart_hz > SIDEBAND_HZ && SHIFTS_HZ.into_iter().any(near) {
            true => USUAL_FOR,
            false => ODD_FOR,
        };
        (self.one_for >= enough).then_some(self.one_hz)
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
        let other = match (self.followed(heard, is_read), self.seen()) {
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
            self.subject = Some(Subject {
                tones_hz,
                followed: None,
                is_read: false,
                sense: None,
                read_hz: None,
                heard_s: heard.now_s,
            });
        }
    }
}

impl Subjects {
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

/// The place of the subject by what is known best: the receiver's, unless the sight sees the
/// tones elsewhere: after a turn it is there sooner.
fn follow(subject: &mut Subject, pair_hz: Option<[f64; 2]>) {
    let agree = |tones_hz: [f64; 2]| {
        pair_hz.is_none_or(|seen| (0..2).all(|k| (seen[k] - tones_hz[k]).abs() < MOVED_HZ))
    };
    if let Some(followed) = subject.followed
        && agree(followed.tones_hz)
    {
        subject.tones_hz = followed.tones_hz;
        return;
    }
    if let Some(pair) = pair_hz.filter(|pair| subject.is_at(*pair)) {
        let off_hz = 0.5 * (pair[0] + pair[1]) - subject.middle_hz();
        for (own, seen) in subject.tones_hz.iter_mut().zip(pair) {
            *own += FOLLOW * off_hz + FOLLOW_SHIFT * (seen - *own - off_hz);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAIR: [f64; 2] = [1415.0, 1585.0];

    fn moved(hz: f64) -> [f64; 2] {
        PAIR.map(|tone| tone + hz)
    }

    fn followed(tones_hz: [f64; 2], characters: u64) -> FollowedNow {
        FollowedNow {
            tones_hz,
            sense: Sense::LowerTone,
            drift_hz_per_min: 0.0,
            quality: Some(0.95),
            characters,
        }
    }

    /// Hears the same for a while from `from_s` on; the subject at the end.
    fn hear(
        subjects: &mut Subjects,
        (from_s, to_s): (f64, f64),
        pair_hz: Option<[f64; 2]>,
        is_one_sender: bool,
        followed: Option<FollowedNow>,
    ) -> Option<Subject> {
        let mut subject = None;
        let mut now_s = from_s;
        while now_s < to_s {
            let tones = pair_hz.unwrap_or([0.0; 2]);
            let is_tone = |hz: f64| tones.iter().any(|t| (t - hz).abs() < 30.0);
            let turns = |pair: [f64; 2]| is_one_sender && Some(pair) == pair_hz;
            let heard = Heard {
                now_s,
                pair_hz,
                is_one_sender: &turns,
                followed,
                is_followed_heard: followed.is_some(),
                is_tone: &is_tone,
            };
            subject = subjects.process(&heard).0;
            now_s += 0.04;
        }
        subject
    }

    #[test]
    fn what_does_not_take_turns_and_is_not_read_is_nobody() {
        let mut subjects = Subjects::default();
        assert_eq!(
            hear(&mut subjects, (0.0, 20.0), Some(PAIR), false, None),
            None
        );
        let subject = hear(&mut subjects, (20.0, 20.6), Some(PAIR), true, None);
        assert_eq!(subject.map(|s| s.tones_hz), Some(PAIR));
    }

    #[test]
    fn an_odd_distance_must_hold_and_gives_way_to_what_is_followed() {
        let odd = [1415.0, 1520.0];
        let mut subjects = Subjects::default();
        assert_eq!(hear(&mut subjects, (0.0, 1.5), Some(odd), true, None), None);
        let subject = hear(&mut subjects, (1.5, 3.0), Some(odd), true, None);
        assert_eq!(subject.map(|s| s.tones_hz), Some(odd));
        let read = Some(followed(PAIR, 9));
        let subject = hear(&mut subjects, (3.0, 3.2), Some(PAIR), true, read);
        assert_eq!(subject.map(|s| s.tones_hz), Some(PAIR));
    }

    #[test]
    fn a_place_of_before_the_turn_does_not_take_over() {
        let mut subjects = Subjects::default();
        let there = moved(300.0);
        hear(
            &mut subjects,
            (0.0, 10.0),
            Some(PAIR),
            true,
            Some(followed(PAIR, 30)),
        );
        hear(
            &mut subjects,
            (10.0, 10.4),
            Some(there),
            true,
            Some(followed(PAIR, 31)),
        );
        // It pauses, and the receiver still follows, and reads, the old place.
        let stale = Some(followed(PAIR, 32));
        let subject = hear(&mut subjects, (10.4, 14.0), None, false, stale);
        assert_eq!(subject.map(|s| s.tones_hz), Some(there));
    }

    #[test]
    fn a_neighbour_in_a_pause_does_not_take_over() {
        let mut subjects = Subjects::default();
        hear(&mut subjects, (0.0, 2.0), Some(PAIR), true, None);
        // Mark idles; Morse beside it makes a pair with another distance.
        let with_morse = Some([1415.0, 2315.0]);
        let subject = hear(&mut subjects, (2.0, 60.0), with_morse, false, None);
        assert_eq!(subject.map(|s| s.tones_hz), Some(PAIR));
        assert!(
            subject.is_some_and(|s| s.heard_s > 59.9),
            "its mark is there"
        );
    }

    #[test]
    fn a_turn_moves_it_at_once_and_is_told() {
        let mut subjects = Subjects::default();
        hear(&mut subjects, (0.0, 2.0), Some(PAIR), true, None);
        let there = moved(300.0);
        let subject = hear(&mut subjects, (2.0, 2.2), Some(there), false, None);
        assert_eq!(subject.map(|s| s.tones_hz), Some(there));
    }

    #[test]
    fn another_is_the_subject_when_this_one_has_long_been_silent() {
        let mut subjects = Subjects::default();
        hear(&mut subjects, (0.0, 2.0), Some(PAIR), true, None);
        let other = [800.0, 1225.0];
        let soon = hear(
            &mut subjects,
            (2.0, 2.0 + SILENT_S - 0.2),
            Some(other),
            true,
            None,
        );
        assert_eq!(soon.map(|s| s.tones_hz), Some(PAIR));
        let late = hear(
            &mut subjects,
            (2.0 + SILENT_S, 20.0),
            Some(other),
            true,
            None,
        );
        assert_eq!(late.map(|s| s.tones_hz), Some(other));
        let read = Some(followed(moved(800.0), 9));
        let read = hear(&mut subjects, (20.0, 23.0), Some(moved(800.0)), true, read);
        assert_eq!(read.map(|s| s.tones_hz), Some(moved(800.0)), "it is read");
    }

    #[test]
    fn who_comes_back_after_another_takes_turns_with_it() {
        let mut subjects = Subjects::default();
        let mut over = |from_s: f64, pair: [f64; 2]| {
            let (begin_s, to_s) = (from_s + 2.0, from_s + 20.0);
            hear(&mut subjects, (from_s, begin_s), None, false, None);
            let read = Some(followed(pair, from_s as u64));
            let subject = hear(&mut subjects, (begin_s, to_s), Some(pair), true, read);
            assert_eq!(subject.map(|s| s.tones_hz), Some(pair), "{from_s} s");
            subjects.take_turns(to_s)
        };
        // Another shift than the first's: these are not its tones, moved.
        let other = [1650.0, 1850.0];
        assert!(!over(0.0, PAIR) && !over(20.0, other));
        assert!(over(40.0, PAIR) && over(60.0, other), "they take turns");
        // With the same shift and less than a turn away it is the same, after a pause as before.
        let near = [1750.0, 1950.0];
        assert!(over(80.5, near) && over(101.0, other) && over(121.5, near));
        let third = [800.0, 1225.0];
        assert!(over(142.0, third), "it is not forgotten at once");
        assert!(!subjects.take_turns(142.0 + OVER_S + 2.0));
    }

    #[test]
    fn read_is_a_state_that_ends() {
        let mut subjects = Subjects::default();
        let few = Some(followed(PAIR, CHARACTERS - 1));
        let subject = hear(&mut subjects, (0.0, 2.0), Some(PAIR), true, few);
        assert_eq!(subject.map(|s| s.is_read), Some(false));
        let some = Some(followed(PAIR, CHARACTERS));
        let subject = hear(&mut subjects, (2.0, 3.0), Some(PAIR), true, some);
        assert_eq!(subject.map(|s| s.is_read), Some(true));
        let stuck = hear(&mut subjects, (3.0, 3.0 + LATE_S), Some(PAIR), true, some);
        assert_eq!(stuck.map(|s| s.is_read), Some(false), "nothing new came");
    }
}
