//! Where a dial stands, as somebody told it, and what a transmission tells of the dial then.

use super::{Found, band};
use crate::{Dial, Sked};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

/// What was told holds for an evening, and is taken for forgotten after it.
const AN_EVENING: SignedDuration = SignedDuration::from_hours(12);

/// A dial that is farther off than this is not believed by itself, Hz: pairs of tones lie within
/// one passband of 3 kHz, so somebody turned it and did not say so, or hears somebody else.
const BELIEVED_HZ: f64 = 3000.0;

/// Who says where a dial stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ToldBy {
    /// The person.
    Person,
    /// The radio, by its daemon.
    Radio,
}

/// Where a dial stands, as it was told.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stands {
    /// When that was told.
    pub at: Timestamp,
    /// What it reads, kHz; `None` where that is not known.
    pub khz: Option<f64>,
    /// When the receiver was switched on, where that is known.
    pub on: Option<Timestamp>,
    /// By whom.
    pub by: ToldBy,
}

impl Stands {
    /// Whether it still counts.
    pub fn holds(&self, now: Timestamp) -> bool {
        let since = now.duration_since(self.at);
        (SignedDuration::ZERO..AN_EVENING).contains(&since)
    }

    /// Minutes since the receiver was switched on, where that is known.
    pub fn minutes_on(&self, now: Timestamp) -> Option<f64> {
        let minutes = now.duration_since(self.on?).as_secs_f64() / 60.0;
        Some(minutes).filter(|minutes| *minutes >= 0.0)
    }

    /// What a transmission of a sked tells of the dial, when the middle of its tones is heard at
    /// `heard_hz` now: the band and the error. `None` where nothing is told by that.
    pub fn tells(
        &self,
        dial: &Dial,
        sked: &Sked,
        (now, heard_hz): (Timestamp, f64),
    ) -> Option<(u32, Found)> {
        let read_khz = self.khz.filter(|_| self.holds(now))?;
        let (channel, reads_high_hz) = dial.found(sked, (read_khz, heard_hz))?;
        let found = Found {
            minutes_on: self.minutes_on(now),
            reads_high_hz,
        };
        (reads_high_hz.abs() <= BELIEVED_HZ).then_some((band(channel.khz), found))
    }
}

/// The name of the evening that a time belongs to: the date at the noon before it, by the
/// station's clock.
pub fn night(at: Timestamp, here: &TimeZone) -> String {
    let noon = at.saturating_sub(AN_EVENING).unwrap_or(at);
    noon.to_zoned_datetime(here.clone()).date().to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sked::tests::bulletin;
    use crate::{Channel, Figure};

    fn at(text: &str) -> Timestamp {
        text.parse().unwrap()
    }

    fn stands(khz: f64) -> Stands {
        Stands {
            at: at("2026-03-01T19:00:00Z"),
            khz: Some(khz),
            on: Some(at("2026-03-01T18:50:00Z")),
            by: ToldBy::Person,
        }
    }

    /// Mark of 3595.2 is the higher one and the shift 170 Hz: the middle is 3595.115. Heard at
    /// 2210 Hz on the lower sideband its carrier is 3597.325; a dial at 3597.9 reads 575 Hz high.
    #[test]
    fn a_known_transmission_tells_the_error_of_its_band() {
        let now = at("2026-03-01T19:05:00Z");
        let (dial, sked) = (Dial::default(), bulletin());
        let (band, found) = stands(3597.9).tells(&dial, &sked, (now, 2210.0)).unwrap();
        assert_eq!((band, found.minutes_on), (3, Some(15.0)));
        assert!((found.reads_high_hz - 575.0).abs() < 1e-6, "{found:?}");
        // The other channel: 7047.79 + 2.21 + 2.21 = 7052.21 on the lower sideband.
        let (band, found) = stands(7052.0).tells(&dial, &sked, (now, 2210.0)).unwrap();
        assert_eq!(band, 7);
        assert!((found.reads_high_hz + 210.0).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn what_cannot_be_told_is_not_made_up() {
        let (dial, sked) = (Dial::default(), bulletin());
        let soon = at("2026-03-01T19:05:00Z");
        let tells = |stands: Stands, sked: &Sked, now| stands.tells(&dial, sked, (now, 2210.0));
        // Far off all of it; forgotten; a clock set back; not told; no frequency; a mode of the
        // receiver that hides the carrier.
        assert_eq!(tells(stands(3650.0), &sked, soon), None);
        assert_eq!(
            tells(stands(3597.9), &sked, at("2026-03-02T08:00:00Z")),
            None
        );
        assert_eq!(
            tells(stands(3597.9), &sked, at("2026-03-01T18:00:00Z")),
            None
        );
        let unknown = Stands {
            khz: None,
            ..stands(0.0)
        };
        assert_eq!(tells(unknown, &sked, soon), None);
        let nowhere = Sked {
            channels: vec![],
            ..bulletin()
        };
        assert_eq!(tells(stands(3597.9), &nowhere, soon), None);
        let hidden = Dial {
            shows: crate::Shows::Heard,
            ..dial
        };
        let found = hidden.found(&sked, (3597.9, 2210.0));
        assert_eq!(found, None);
    }

    #[test]
    fn of_several_channels_the_nearest_is_meant() {
        let channel = |khz| Channel {
            khz,
            means: Figure::Middle,
        };
        let sked = Sked {
            channels: vec![channel(3590.0), channel(3597.0)],
            ..bulletin()
        };
        let found = Dial::default().found(&sked, (3599.0, 2210.0)).unwrap();
        assert_eq!(found.0, channel(3597.0));
        assert!((found.1 + 210.0).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn what_is_after_midnight_belongs_to_the_evening_before() {
        let berlin = TimeZone::get("Europe/Berlin").unwrap();
        assert_eq!(night(at("2026-03-01T21:00:00Z"), &berlin), "2026-03-01");
        assert_eq!(night(at("2026-03-02T02:00:00Z"), &berlin), "2026-03-01");
        assert_eq!(night(at("2026-03-02T11:30:00Z"), &berlin), "2026-03-02");
    }
}
