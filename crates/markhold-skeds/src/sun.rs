//! When the sun rises and sets, and when twilight begins and ends.
//!
//! Declination and equation of time by the usual short series for the sun's place, as the solar
//! calculator of the US National Oceanic and Atmospheric Administration publishes it (from J. Meeus, Astronomical
//! Algorithms, chapters 25 and 28). Between a midnight and a noon the sun only climbs, between a noon and a midnight
//! it only sinks: so an event is where one of the two is halved until it stands still. Good to seconds below 65
//! degrees of latitude; near the poles a grazing sun makes minutes of air and horizon.

use crate::Place;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

/// How low the sun's middle stands at an event.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Height {
    /// Rise and set: the upper edge at the horizon, with 34 minutes of arc of refraction.
    Horizon,
    /// Civil twilight: 6 degrees below.
    Civil,
    /// Nautical twilight: 12 degrees below.
    Nautical,
    /// Astronomical twilight: 18 degrees below.
    Astronomical,
}

impl Height {
    /// Degrees above the horizon. 50 minutes of arc are 34 of refraction and 16 of half the sun's
    /// width, as almanacs take it.
    fn degrees(self) -> f64 {
        match self {
            Height::Horizon => -50.0 / 60.0,
            Height::Civil => -6.0,
            Height::Nautical => -12.0,
            Height::Astronomical => -18.0,
        }
    }
}

/// A day's sun at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Daylight {
    /// It is above that height at noon.
    Up {
        /// When it passes that height upwards, in the half day before noon; none where it has been
        /// above since midnight, as on the first days of a polar day.
        rise: Option<Timestamp>,
        /// When it passes that height downwards, in the half day after noon; none where it stays
        /// above until midnight.
        set: Option<Timestamp>,
    },
    /// Not even at noon.
    Never,
}

/// Rise and set, or twilight, of the solar day whose noon falls on that date of the place's own
/// mean time (degrees of longitude / 15). In UTC the rise may belong to the date before, the set
/// to the date behind.
pub fn daylight(place: Place, date: Date, height: Height) -> Daylight {
    let at = |half_days: f64| on_the_meridian(place, date, half_days);
    let (before, noon, after) = (at(-1.0), at(0.0), at(1.0));
    let is_above = |s: f64| elevation_at(place, s) > height.degrees();
    let between = |midnight| (!is_above(midnight)).then(|| passage(midnight, noon, is_above));
    match is_above(noon) {
        true => Daylight::Up {
            rise: between(before),
            set: between(after),
        },
        false => Daylight::Never,
    }
}

/// Where, between a time when it is below and one when it is above, it comes to be above.
fn passage(mut below: f64, mut above: f64, is_above: impl Fn(f64) -> bool) -> Timestamp {
    while (above - below).abs() > STANDS_STILL_S {
        let middle = f64::midpoint(above, below);
        *(if is_above(middle) {
            &mut above
        } else {
            &mut below
        }) = middle;
    }
    timestamp(above)
}

/// How near an event is followed, s.
const STANDS_STILL_S: f64 = 0.05;

/// Whether the sun's middle stands above that height now.
pub fn is_above(place: Place, at: Timestamp, height: Height) -> bool {
    elevation(place, at) > height.degrees()
}

/// How high the sun's middle stands, degrees above the horizon, without refraction.
pub fn elevation(place: Place, at: Timestamp) -> f64 {
    elevation_at(place, at.as_millisecond() as f64 / 1e3)
}

/// The same at so many seconds from 1970.
fn elevation_at(place: Place, s: f64) -> f64 {
    let sun = Sun::at(s);
    let minutes = s.rem_euclid(86_400.0) / 60.0 + sun.equation_min + 4.0 * place.longitude;
    let hour = (minutes / 4.0 - 180.0).to_radians();
    let (latitude, declination) = (place.latitude.to_radians(), sun.declination.to_radians());
    let sine = latitude.sin() * declination.sin() + latitude.cos() * declination.cos() * hour.cos();
    sine.clamp(-1.0, 1.0).asin().to_degrees()
}

/// Seconds from 1970 at which the sun stands over the meridian: so many half days from the noon of
/// the date, by a sundial.
fn on_the_meridian(place: Place, date: Date, half_days: f64) -> f64 {
    let midnight = TimeZone::UTC.to_timestamp(date.to_datetime(jiff::civil::Time::midnight()));
    let midnight = midnight.map_or(0.0, |at| at.as_second() as f64);
    let mean = midnight + (1.0 + half_days) * 43_200.0 - place.longitude * 240.0;
    mean - 60.0 * Sun::at(mean).equation_min
}

fn timestamp(s: f64) -> Timestamp {
    let since = SignedDuration::from_millis((s * 1e3).round() as i64);
    Timestamp::from_duration(since).unwrap_or_default()
}

/// Where the sun stands among the stars.
struct Sun {
    /// Degrees north of the equator.
    declination: f64,
    /// How far a sundial is ahead of mean time, minutes.
    equation_min: f64,
}

impl Sun {
    /// At so many seconds from 1970 in UTC, which is taken for dynamical time: the minute between
    /// them moves the sun by 2 seconds of arc.
    fn at(s: f64) -> Self {
        // Julian centuries from the noon of 1 January 2000.
        let t = (s / 86_400.0 + 2_440_587.5 - 2_451_545.0) / 36_525.0;
        let mean_longitude = (280.46646 + t * (36_000.769_83 + 0.000_303_2 * t)).rem_euclid(360.0);
        let anomaly = (357.52911 + t * (35_999.050_29 - 0.000_153_7 * t)).to_radians();
        let eccentricity = 0.016_708_634 - t * (0.000_042_037 + 0.000_000_126_7 * t);
        let center = anomaly.sin() * (1.914_602 - t * (0.004_817 + 0.000_014 * t))
            + (2.0 * anomaly).sin() * (0.019_993 - 0.000_101 * t)
            + (3.0 * anomaly).sin() * 0.000_289;
        let node = (125.04 - 1_934.136 * t).to_radians();
        let longitude = mean_longitude + center - 0.005_69 - 0.004_78 * node.sin();
        let mean_obliquity =
            23.0 + (26.0 + (21.448 - t * (46.815 + t * (0.000_59 - t * 0.001_813))) / 60.0) / 60.0;
        let obliquity = (mean_obliquity + 0.002_56 * node.cos()).to_radians();
        let declination = (obliquity.sin() * longitude.to_radians().sin()).asin();
        let y = (obliquity / 2.0).tan().powi(2);
        let l = mean_longitude.to_radians();
        let equation = y * (2.0 * l).sin() - 2.0 * eccentricity * anomaly.sin()
            + 4.0 * eccentricity * y * anomaly.sin() * (2.0 * l).cos()
            - 0.5 * y * y * (4.0 * l).sin()
            - 1.25 * eccentricity * eccentricity * (2.0 * anomaly).sin();
        Sun {
            declination: declination.to_degrees(),
            equation_min: 4.0 * equation.to_degrees(),
        }
    }
}
