//! Tonight: what is on, what is next, when to switch on and where to set the dial.

use super::object::{DialObject, Object};
use super::{Receiver, words};
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::plain;
use markhold_skeds::learned::{LearnedDial, Stands, band};
use markhold_skeds::{Channel, Dial, Due, Setting, Sked};

/// Hz from where it comes to rest at which a receiver is taken to stand: it is then within what
/// finding a pair beside its place makes up for.
const STANDS_HZ: f64 = 30.0;
/// Minutes on at which the hints are given where nobody said when it was switched on.
const LONG_ON_MIN: f64 = 60.0;

/// Tonight as it stands now, for this receiver.
pub struct Tonight {
    /// The receiver as described.
    pub receiver: Receiver,
    /// What is known of its dial.
    pub learned: LearnedDial,
    /// Where the dial stands, if that was told.
    pub stands: Option<Stands>,
    /// What time it is.
    pub now: Timestamp,
    /// The station's zone.
    pub here: TimeZone,
}

impl Tonight {
    /// The lines of one transmission for a terminal, with the sums if they are wanted.
    pub fn lines(&self, due: &Due, sked: &Sked, sums: bool) -> Vec<String> {
        let mut lines = vec![self.headline(due, sked)];
        if !self.is_on(due) {
            lines.push(format!("      {}", self.switching(due)));
        }
        let dial = sked
            .channels
            .iter()
            .flat_map(|channel| self.dial_lines(due, sked, channel, sums));
        lines.extend(dial.map(|line| format!("      {line}")));
        lines
    }

    fn is_on(&self, due: &Due) -> bool {
        due.begins <= self.now
    }

    fn headline(&self, due: &Due, sked: &Sked) -> String {
        let (title, when) = (
            words::title(sked),
            words::both_times(due.begins, &self.here),
        );
        match self.is_on(due) {
            true => {
                let (since, left) = (
                    self.now.duration_since(due.begins),
                    due.ends.duration_since(self.now),
                );
                format!(
                    "NOW   {title}, for {}, {} to go ({when})",
                    words::span(since),
                    words::span(left)
                )
            }
            false => {
                let left = words::span(due.begins.duration_since(self.now));
                format!(
                    "NEXT  {title} in {left}: {when}, for {} min",
                    sked.length_min
                )
            }
        }
    }

    fn switch_on(&self, due: &Due) -> Timestamp {
        let learned = self
            .learned
            .warm_up()
            .map(|curve| curve.minutes_until(STANDS_HZ));
        let minutes = learned.unwrap_or(self.receiver.warm_up_min);
        let before = SignedDuration::from_secs((minutes * 60.0).round() as i64);
        due.begins.saturating_sub(before).unwrap_or(due.begins)
    }

    fn switching(&self, due: &Due) -> String {
        if let Some(on) = self.stands.and_then(|stands| stands.on) {
            return format!(
                "the receiver has been on for {}",
                words::span(self.now.duration_since(on))
            );
        }
        let at = self.switch_on(due);
        match at > self.now {
            true => {
                let local = at.to_zoned_datetime(self.here.clone()).strftime("%H:%M");
                format!(
                    "switch the receiver on at {local}, in {}",
                    words::span(at.duration_since(self.now))
                )
            }
            false => "the receiver should be on".to_string(),
        }
    }

    /// Minutes that the receiver will have been on when it begins, or has been now.
    fn minutes_on(&self, due: &Due) -> f64 {
        let at = due.begins.max(self.now);
        let told = self.stands.and_then(|stands| stands.minutes_on(at));
        told.unwrap_or(LONG_ON_MIN)
    }

    /// Where to set the dial, and what is known of it.
    fn setting(&self, due: &Due, sked: &Sked, channel: &Channel, dial: &Dial) -> Setting {
        let hint = self.learned.hint(band(channel.khz), self.minutes_on(due));
        dial.set(
            sked,
            channel,
            hint.map_or(0.0, |hint| hint.reads_high_hz.middle),
        )
    }

    fn dial_lines(&self, due: &Due, sked: &Sked, channel: &Channel, sums: bool) -> Vec<String> {
        let Some(dial) = &self.receiver.dial else {
            return vec![words::channel(channel)];
        };
        let set = self.setting(due, sked, channel, dial);
        let known = plain(&self.learned.words(band(channel.khz), dial));
        let mut lines = vec![format!(
            "{}: set {:.2} ({known})",
            words::channel(channel),
            set.khz
        )];
        if sums {
            lines.extend(set.steps.iter().map(|step| format!("  {step}")));
        }
        lines
    }

    /// The same as an object.
    pub fn object<'a>(&self, due: &Due, sked: &'a Sked) -> Object<'a> {
        Object::Due {
            sked: due.sked,
            station: &sked.station,
            name: &sked.name,
            begins: due.begins.to_string(),
            ends: due.ends.to_string(),
            length_min: sked.length_min,
            begins_local: due.begins.to_zoned_datetime(self.here.clone()).to_string(),
            on: self.is_on(due),
            seconds: due.begins.duration_since(self.now).as_secs(),
            switch_on: self.switch_on(due).to_string(),
            dial: sked
                .channels
                .iter()
                .map(|channel| self.dial_object(due, sked, channel))
                .collect(),
        }
    }

    fn dial_object(&self, due: &Due, sked: &Sked, channel: &Channel) -> DialObject {
        let band = band(channel.khz);
        let set = self
            .receiver
            .dial
            .map(|dial| self.setting(due, sked, channel, &dial));
        let hint = self
            .learned
            .hint(band, self.minutes_on(due))
            .map(|hint| hint.reads_high_hz);
        let tones = set.as_ref().and_then(|set| set.tones);
        DialObject {
            khz: channel.khz,
            set_khz: set.as_ref().map(|set| set.khz),
            exact_khz: set.as_ref().map(|set| set.exact_khz),
            mark_hz: tones.map(|tones| tones.mark_hz),
            space_hz: tones.map(|tones| tones.space_hz),
            reads_high_hz: hint.map(|likely| likely.middle),
            within_hz: hint.map(|likely| likely.within),
            evenings: self.learned.evenings(band),
            known: self
                .receiver
                .dial
                .map(|dial| self.learned.words(band, &dial)),
            sums: set.map_or(Vec::new(), |set| set.steps),
        }
    }
}
