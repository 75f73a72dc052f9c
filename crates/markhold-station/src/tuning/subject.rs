//! One sender and where it stands.

use markhold_event::Sense;

/// Two distances of tones are the same within this, Hz: two places, each some Hz off.
const SAME_SHIFT_HZ: f64 = 16.0;
/// Tones are at a place within this, Hz.
pub(super) const SAME_HZ: f64 = 40.0;
/// The pair has moved when its middle is this far from where it was, Hz: more than a place
/// seems to wander by keying.
pub(super) const MOVED_HZ: f64 = 25.0;
/// How fast the place follows what is seen of it, share a spectrum: a hand that turns a little
/// is to see it at once, and the sight's own mean takes away what keying makes of it.
const FOLLOW: f64 = 0.2;
/// How fast its distance follows, share a spectrum: a sender keeps it, and while the dial is turned
/// an old tone may stand beside a new one.
const FOLLOW_SHIFT: f64 = 0.02;

/// Tones that were moved are no weaker than this share of what they were, as power: a fade takes 10 dB
/// within the time of a turn. What stands out of noise while they fade is weaker.
const AS_STRONG: f32 = 0.1;
/// How fast their power of late follows, share a spectrum: a second.
const POWER: f32 = 0.04;

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
    /// When any of its tones was heard of late, s: pauses between words are none.
    pub heard_s: f64,
    /// When any of its tones stood there, s: where they were a moment ago says nothing of where a
    /// dial that was turned since has taken them.
    pub there_s: f64,
    /// Power of both its tones together, of late; 0 before it is known.
    pub power: f32,
}

impl Subject {
    /// A pair that has just become the subject.
    pub(super) fn new(tones_hz: [f64; 2], now_s: f64) -> Self {
        Subject {
            tones_hz,
            followed: None,
            is_read: false,
            sense: None,
            read_hz: None,
            heard_s: now_s,
            there_s: now_s,
            power: 0.0,
        }
    }

    /// Whether a pair is where this one is.
    pub(super) fn is_at(&self, pair_hz: [f64; 2]) -> bool {
        (0..2).all(|k| (self.tones_hz[k] - pair_hz[k]).abs() < SAME_HZ)
    }

    /// Whether a pair is as far apart.
    pub(super) fn is_like(&self, [low, high]: [f64; 2]) -> bool {
        let [own_low, own_high] = self.tones_hz;
        ((high - low) - (own_high - own_low)).abs() < SAME_SHIFT_HZ
    }

    /// Whether it was read well where it is now.
    pub fn is_readable(&self) -> bool {
        let near = |hz: f64| (hz - self.middle_hz()).abs() < SAME_HZ;
        self.is_read || self.read_hz.is_some_and(near)
    }

    /// The middle of its tones, Hz.
    pub(super) fn middle_hz(&self) -> f64 {
        0.5 * (self.tones_hz[0] + self.tones_hz[1])
    }

    /// Whether tones of this power may be its own, taken along by the dial: that does not weaken them.
    pub(super) fn is_as_strong(&self, power: f32) -> bool {
        power >= AS_STRONG * self.power
    }

    /// Its tones stand where they were with this power.
    pub(super) fn note_power(&mut self, power: f32) {
        let share = if self.power > 0.0 { POWER } else { 1.0 };
        self.power += share * (power - self.power);
    }

    /// The place of the subject by what is known best: the receiver's, unless the sight sees the
    /// tones elsewhere: after a turn it is there sooner.
    pub(super) fn follow(&mut self, pair_hz: Option<[f64; 2]>) {
        let agree = |tones_hz: [f64; 2]| {
            pair_hz.is_none_or(|seen| (0..2).all(|k| (seen[k] - tones_hz[k]).abs() < MOVED_HZ))
        };
        if let Some(followed) = self.followed
            && agree(followed.tones_hz)
        {
            self.tones_hz = followed.tones_hz;
            return;
        }
        if let Some(pair) = pair_hz.filter(|pair| self.is_at(*pair)) {
            let off_hz = 0.5 * (pair[0] + pair[1]) - self.middle_hz();
            for (own, seen) in self.tones_hz.iter_mut().zip(pair) {
                *own += FOLLOW * off_hz + FOLLOW_SHIFT * (seen - *own - off_hz);
            }
        }
    }
}
