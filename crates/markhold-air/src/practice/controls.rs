//! What the person turns at the practice receiver.

use crate::crash::Crashes;

/// Which side of the dial is heard.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Sideband {
    /// Below the dial: the tones change places. Usual for radioteletype (common practice).
    #[default]
    Lower,
    /// Above the dial.
    Upper,
}

impl Sideband {
    /// 1 where audio rises with radio frequency, -1 where it falls.
    pub(crate) fn sign(self) -> f64 {
        match self {
            Sideband::Upper => 1.0,
            Sideband::Lower => -1.0,
        }
    }
}

/// How the receiver drifts while it gets warm: what it is tuned to lies `off_hz` above the
/// dial at switch-on, and 37 % of that after each time constant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WarmUp {
    /// How far off it is at switch-on, Hz, up to [`WarmUp::OFF_HZ`] either way.
    pub off_hz: f64,
    /// Time constant, s, within [`WarmUp::TIME_S`].
    pub time_s: f64,
}

impl WarmUp {
    /// Furthest off at switch-on, Hz.
    pub const OFF_HZ: f64 = 1000.0;
    /// Shortest and longest time constant, s.
    pub const TIME_S: (f64, f64) = (10.0, 3600.0);

    /// How far off it is a time after switch-on, Hz.
    pub fn hz_at(self, since_s: f64) -> f64 {
        self.off_hz * (-since_s / self.time_s).exp()
    }

    /// Moved to the nearest end of its scales; what is no number keeps the value of `now`.
    pub(crate) fn on_scale(self, now: WarmUp) -> WarmUp {
        WarmUp {
            off_hz: Controls::on_scale(self.off_hz, (-Self::OFF_HZ, Self::OFF_HZ), now.off_hz),
            time_s: Controls::on_scale(self.time_s, Self::TIME_S, now.time_s),
        }
    }
}

/// How everything at the practice receiver stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Controls {
    /// The dial: suppressed carrier of the sideband, Hz of radio.
    pub dial_hz: f64,
    /// Which side of the dial is heard.
    pub sideband: Sideband,
    /// How the receiver drifts while it gets warm.
    pub warm_up: WarmUp,
    /// Static crashes in a minute.
    pub static_per_min: f64,
    /// Volume, dB.
    pub volume_db: f64,
}

impl Default for Controls {
    /// Near the first station and a little off it, on the lower sideband, just switched on,
    /// with the static of a quiet evening.
    fn default() -> Self {
        Self {
            dial_hz: 7_042_900.0,
            sideband: Sideband::Lower,
            warm_up: WarmUp {
                off_hz: 60.0,
                time_s: 300.0,
            },
            static_per_min: 4.0,
            volume_db: 0.0,
        }
    }
}

impl Controls {
    /// Ends of the dial's scale, Hz of radio.
    pub const DIAL_HZ: (f64, f64) = (7_030_000.0, 7_050_000.0);
    /// Most static crashes in a minute.
    pub const STATIC_PER_MIN: f64 = 240.0;
    /// Lowest and highest volume, dB.
    pub const VOLUME_DB: (f64, f64) = (-60.0, 30.0);

    /// Everything moved to the nearest end of its scale; what is no number keeps the value of
    /// `now`.
    pub fn on_scales(self, now: Controls) -> Controls {
        let scale = Self::on_scale;
        Controls {
            dial_hz: scale(self.dial_hz, Self::DIAL_HZ, now.dial_hz),
            sideband: self.sideband,
            warm_up: self.warm_up.on_scale(now.warm_up),
            static_per_min: scale(
                self.static_per_min,
                (0.0, Self::STATIC_PER_MIN),
                now.static_per_min,
            ),
            volume_db: scale(self.volume_db, Self::VOLUME_DB, now.volume_db),
        }
    }

    /// `value` on a scale: at its nearest end if it is beyond, `now` if it is no number.
    pub(crate) fn on_scale(value: f64, (low, high): (f64, f64), now: f64) -> f64 {
        if value.is_nan() {
            now
        } else {
            value.clamp(low, high)
        }
    }

    /// The crashes asked for, if any.
    pub(crate) fn crashes(&self) -> Option<Crashes> {
        // Less than one in two hours is none.
        let rate_per_s = self.static_per_min / 60.0;
        (rate_per_s > 1e-4).then(|| Crashes {
            rate_per_s,
            ..Crashes::default()
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_receiver_settles_with_its_time_constant() {
        let warm_up = WarmUp {
            off_hz: 100.0,
            time_s: 200.0,
        };
        assert_eq!(warm_up.hz_at(0.0), 100.0);
        assert!((warm_up.hz_at(200.0) - 36.788).abs() < 1e-3);
        assert!(warm_up.hz_at(2000.0) < 0.01);
    }

    #[test]
    fn scales_have_ends_and_no_number_changes_nothing() {
        assert_eq!(Controls::on_scale(9.0, (0.0, 5.0), 1.0), 5.0);
        assert_eq!(Controls::on_scale(f64::NEG_INFINITY, (0.0, 5.0), 1.0), 0.0);
        assert_eq!(Controls::on_scale(f64::NAN, (0.0, 5.0), 1.0), 1.0);
    }

    #[test]
    fn no_static_is_no_crashes_and_the_most_is_accepted() {
        let with = |static_per_min| Controls {
            static_per_min,
            ..Controls::default()
        };
        assert_eq!(with(0.0).crashes(), None);
        let most = with(Controls::STATIC_PER_MIN).crashes().expect("crashes");
        assert_eq!(most.check(), Ok(()));
    }
}
