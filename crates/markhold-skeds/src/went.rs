//! How skeds went, and the one thing that can honestly be said of it: that a transmission which
//! comes on two bands at once is better heard on one of them.

use jiff::civil::Weekday;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// How one transmission went on one band.
#[derive(Clone, Debug, PartialEq)]
pub struct Went {
    /// What it is called. Two skeds of one name at one time are one transmission on two bands.
    pub title: String,
    /// When it was due.
    pub begins: Timestamp,
    /// Its band, whole megahertz, where one frequency is known.
    pub band: Option<u32>,
    /// The share of its characters that are sure, 0 to 1; 0 where nothing of it was heard, `None`
    /// where nobody could have heard it.
    pub sure: Option<f64>,
}

/// One band is better than another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Better {
    /// The better band, MHz.
    pub band: u32,
    /// The other one.
    pub than: u32,
    /// How often it was.
    pub times: usize,
    /// Of how many that told the two apart.
    pub of: usize,
    /// The day of the week, where it is always the same.
    pub weekday: Option<Weekday>,
}

/// How all went that was due in one hour of the day on one band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InHour {
    /// The band, whole megahertz.
    pub band: u32,
    /// The hour in which they began, 0 to 23, by the station's clock.
    pub hour: i8,
    /// How many.
    pub runs: usize,
    /// The mean of their shares of sure characters, 0 to 1.
    pub sure: f64,
}

/// Means by band and hour of what somebody could have heard, where the band is known. Hours are
/// those of `here`.
pub fn by_band_and_hour(all: &[Went], here: &TimeZone) -> Vec<InHour> {
    let mut sums: BTreeMap<(u32, i8), (usize, f64)> = BTreeMap::new();
    for went in all {
        if let Some((band, sure)) = went.band.zip(went.sure) {
            let hour = went.begins.to_zoned_datetime(here.clone()).hour();
            let (runs, sum) = sums.entry((band, hour)).or_default();
            *runs += 1;
            *sum += sure;
        }
    }
    let mean = |((band, hour), (runs, sum)): ((u32, i8), (usize, f64))| InHour {
        band,
        hour,
        runs,
        sure: sum / runs as f64,
    };
    sums.into_iter().map(mean).collect()
}

/// Two that begin within this are the same transmission.
const TOGETHER: SignedDuration = SignedDuration::from_mins(30);
/// The latest so many are looked at.
const LATEST: usize = 12;
/// A coin that falls as often as that on one side: said only where it is less likely than this.
const CHANCE: f64 = 0.05;
/// Less of a difference tells nothing.
const APART: f64 = 0.02;

/// What of `all` shows one band better than another, beyond chance; the clearest, if any. Days of
/// the week are those of `here`.
pub fn better_band(all: &[Went], here: &TimeZone) -> Option<Better> {
    let titles: BTreeSet<&str> = all.iter().map(|went| went.title.as_str()).collect();
    let found = titles.into_iter().flat_map(|title| {
        let of_it: Vec<&Went> = all.iter().filter(|went| went.title == title).collect();
        let bands: BTreeSet<u32> = of_it.iter().filter_map(|went| went.band).collect();
        let pairs: Vec<(u32, u32)> = bands
            .iter()
            .flat_map(|a| bands.iter().filter(move |b| *b != a).map(move |b| (*a, *b)))
            .collect();
        pairs
            .into_iter()
            .filter_map(|pair| compared(&of_it, pair, here))
            .collect::<Vec<_>>()
    });
    found
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, better)| better)
}

/// How likely chance alone makes one band so often the better one, and how often it was.
fn compared(all: &[&Went], (band, than): (u32, u32), here: &TimeZone) -> Option<(f64, Better)> {
    let on = |band| all.iter().filter(move |went| went.band == Some(band));
    let mut both: BTreeMap<Timestamp, f64> = BTreeMap::new();
    for one in on(band) {
        let same = |other: &&&Went| one.begins.duration_since(other.begins).abs() <= TOGETHER;
        let other = on(than).find(same).and_then(|other| other.sure);
        if let Some((one_sure, other)) = one.sure.zip(other)
            && (one_sure - other).abs() >= APART
        {
            both.insert(one.begins, one_sure - other);
        }
    }
    let latest: Vec<(Timestamp, f64)> = both.into_iter().rev().take(LATEST).collect();
    let (times, of) = (
        latest.iter().filter(|(_, by)| *by > 0.0).count(),
        latest.len(),
    );
    let chance = by_chance(times, of);
    let days: BTreeSet<i8> = latest
        .iter()
        .map(|(at, _)| weekday(*at, here).to_monday_zero_offset())
        .collect();
    let weekday = (days.len() == 1).then(|| weekday(latest[0].0, here));
    let better = Better {
        band,
        than,
        times,
        of,
        weekday,
    };
    (chance < CHANCE).then_some((chance, better))
}

fn weekday(at: Timestamp, here: &TimeZone) -> Weekday {
    at.to_zoned_datetime(here.clone()).weekday()
}

/// How likely a fair coin shows one side at least so many times of so many (sign test).
fn by_chance(times: usize, of: usize) -> f64 {
    let (mut ways, mut all) = (1.0, 0.0);
    for k in 0..=of {
        if k >= times {
            all += ways;
        }
        ways *= (of - k) as f64 / (k + 1) as f64;
    }
    all / 2f64.powi(of as i32)
}

impl fmt::Display for Better {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Better {
            band,
            than,
            times,
            of,
            ..
        } = self;
        let what = match self.weekday {
            Some(day) => format!("{day:?}s"),
            None => "times".into(),
        };
        write!(
            f,
            "{times} of the last {of} {what} were better on {band} MHz than on {than} MHz"
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn went(day: i64, band: u32, sure: Option<f64>) -> Went {
        let first: Timestamp = "2026-01-01T20:00:00Z".parse().unwrap();
        let later = SignedDuration::from_hours(24 * day);
        Went {
            title: "News".into(),
            begins: first.saturating_add(later).unwrap(),
            band: Some(band),
            sure,
        }
    }

    #[test]
    fn chance_by_hand() {
        // 7 or 8 of 8: 9 of 256 ways. 3 of 3: 1 of 8. 0 of 0: surely.
        assert!((by_chance(7, 8) - 9.0 / 256.0).abs() < 1e-12);
        assert!((by_chance(3, 3) - 0.125).abs() < 1e-12);
        assert_eq!(by_chance(0, 0), 1.0);
    }

    #[test]
    fn seven_of_eight_thursdays() {
        // 1 January 2026 is a Thursday.
        let weeks = |one_off: i64| {
            (0..8).flat_map(move |week| {
                let high = if week == one_off { 0.4 } else { 0.9 };
                [went(7 * week, 7, Some(high)), went(7 * week, 3, Some(0.6))]
            })
        };
        let all: Vec<Went> = weeks(2).collect();
        let said = better_band(&all, &TimeZone::UTC).unwrap().to_string();
        assert_eq!(
            said,
            "7 of the last 8 Thursdays were better on 7 MHz than on 3 MHz"
        );
    }

    #[test]
    fn means_by_band_and_hour() {
        let later = |mut went: Went, hours| {
            went.begins = went
                .begins
                .saturating_add(SignedDuration::from_hours(hours))
                .unwrap();
            went
        };
        let unknown = Went {
            band: None,
            ..went(0, 3, Some(1.0))
        };
        let all = [
            went(0, 3, Some(0.5)),
            went(1, 3, Some(1.0)),
            went(2, 3, None),
            later(went(0, 3, Some(0.2)), 1),
            went(0, 7, Some(0.0)),
            unknown,
        ];
        let here = TimeZone::get("Europe/Berlin").unwrap();
        let cells = by_band_and_hour(&all, &here);
        let cells: Vec<_> = cells
            .iter()
            .map(|c| (c.band, c.hour, c.runs, c.sure))
            .collect();
        assert_eq!(cells, [(3, 21, 2, 0.75), (3, 22, 1, 0.2), (7, 21, 1, 0.0)]);
    }

    #[test]
    fn nothing_is_said_that_chance_may_have_made() {
        let none = |all: Vec<Went>| assert_eq!(better_band(&all, &TimeZone::UTC), None);
        none(vec![]);
        // Four of four is one in sixteen.
        none(
            (0..4)
                .flat_map(|d| [went(d, 7, Some(0.9)), went(d, 3, Some(0.1))])
                .collect(),
        );
        // Nobody listened on the other band, or both were alike.
        none(
            (0..9)
                .flat_map(|d| [went(d, 7, Some(0.9)), went(d, 3, None)])
                .collect(),
        );
        none(
            (0..9)
                .flat_map(|d| [went(d, 7, Some(0.9)), went(d, 3, Some(0.9))])
                .collect(),
        );
        // Never at the same time.
        none(
            (0..9)
                .flat_map(|d| [went(2 * d, 7, Some(0.9)), went(2 * d + 1, 3, Some(0.1))])
                .collect(),
        );
    }
}
