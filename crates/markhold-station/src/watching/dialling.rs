//! What skeds tell of the dial by themselves: each time one is copied while it is known where the
//! dial stands, its error is kept.
//!
//! Where the dial stands is told by the person, or read from the radio's daemon at each look. What
//! a run told counts once that was kept; until then it may have been somebody else.

use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::{Shelf, ShelfError};
use markhold_skeds::learned::{Found, Stands, ToldBy, night};
use markhold_skeds::watch::{Heard, Run};
use markhold_skeds::{Dial, Shows, Sked};
use markhold_wire::rig::Rig;
use std::collections::BTreeMap;
use std::net::SocketAddr;

/// Between two errors kept of one run: a receiver that warms up moves by a few Hz in that time.
const APART: SignedDuration = SignedDuration::from_mins(2);
/// What was not heard for so long is not on the air now: a look and the receiver's delay.
const NOW: SignedDuration = SignedDuration::from_secs(40);
/// Tones that move by more than this between two looks were moved by the dial, Hz: a receiver
/// that was just switched on drifts by a few Hz in half a minute.
const TURNED_HZ: f64 = 60.0;
/// A radio that was silent for so long was switched off, and is cold when it answers again.
const OFF: SignedDuration = SignedDuration::from_mins(10);

/// How the receiver's dial is known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DialKnown {
    /// The dial as it was described; `None`: nothing is learned of it.
    pub dial: Option<Dial>,
    /// The daemon that reads it; `None`: only the person tells.
    pub daemon: Option<SocketAddr>,
}

/// An error of the dial that is to be kept.
struct Note {
    at: Timestamp,
    band: u32,
    found: Found,
    run: (i64, Timestamp),
}

/// Notices errors of the dial.
pub(super) struct Dialling {
    // Configured.
    known: DialKnown,
    // State.
    /// Where it stands, as the shelf or the radio has it.
    stands: Option<Stands>,
    /// Since when the radio has not answered; `None` before it was ever asked or while it does.
    silent: Option<Timestamp>,
    /// When something was kept of each run last.
    kept: BTreeMap<(i64, Timestamp), Timestamp>,
    /// Where the signals of the evening were at the last look, Hz, by their numbers.
    middles: BTreeMap<(i64, u32), f64>,
    /// What is not on the shelf yet.
    notes: Vec<Note>,
    set: Vec<Stands>,
}

impl Dialling {
    pub(super) fn new(known: DialKnown) -> Self {
        Dialling {
            known,
            stands: None,
            silent: None,
            kept: BTreeMap::new(),
            middles: BTreeMap::new(),
            notes: Vec::new(),
            set: Vec::new(),
        }
    }

    /// What the person told is on the shelf.
    pub(super) fn read(&mut self, shelf: &Shelf, now: Timestamp) -> Result<(), ShelfError> {
        if self.set.is_empty() {
            self.stands = shelf.dial_stands(now)?;
        }
        Ok(())
    }

    /// Asks the radio, where there is one to be asked.
    pub(super) fn ask(&mut self, now: Timestamp) {
        let (Some(daemon), Some(dial)) = (self.known.daemon, self.known.dial) else {
            return;
        };
        let answer = Rig::connect(daemon).and_then(|mut rig| rig.set_to());
        let said = answer.ok();
        let khz = said.as_ref().map(|(hz, mode)| carrier(&dial, *hz, mode));
        self.answered(now, khz);
    }

    /// The radio answered with a reading, with none of use, or did not (`None`).
    fn answered(&mut self, now: Timestamp, said: Option<Option<f64>>) {
        let before = self.stands.filter(|stands| stands.holds(now));
        let Some(khz) = said else {
            self.silent.get_or_insert(now);
            // What the person told stays.
            if before.is_some_and(|stands| stands.by == ToldBy::Radio && stands.khz.is_some()) {
                self.put(now, None, None);
            }
            return;
        };
        let off = self.silent.take().map(|since| now.duration_since(since));
        let on = match off.is_some_and(|off| off >= OFF) {
            true => Some(now),
            false => before.and_then(|stands| stands.on),
        };
        let same =
            |stands: Stands| stands.by == ToldBy::Radio && (stands.khz, stands.on) == (khz, on);
        if !before.is_some_and(same) {
            self.put(now, khz, on);
        }
    }

    fn put(&mut self, at: Timestamp, khz: Option<f64>, on: Option<Timestamp>) {
        let by = ToldBy::Radio;
        let stands = Stands { at, khz, on, by };
        self.stands = Some(stands);
        self.set.push(stands);
        // The tones went with the dial: what was measured before is none of this reading.
        self.middles.clear();
    }

    /// Notices what the signals heard now tell; `runs` are open, and `signals` those of this
    /// `evening`.
    pub(super) fn look<'a>(
        &mut self,
        now: Timestamp,
        runs: impl Iterator<Item = &'a Run> + Clone,
        (evening, signals): (i64, &[Heard]),
        skeds: &BTreeMap<i64, Sked>,
    ) {
        let before = std::mem::take(&mut self.middles);
        for heard in signals {
            let Some(signal) = heard.signal else { continue };
            if now.duration_since(heard.last) > NOW {
                continue;
            }
            self.middles.insert((evening, signal), heard.middle_hz);
            let Some(then) = before.get(&(evening, signal)) else {
                continue;
            };
            if (heard.middle_hz - then).abs() > TURNED_HZ {
                self.turned(now);
                continue;
            }
            let run = runs.clone().find(|run| run.has(evening, signal));
            if let Some((run, sked)) = run.and_then(|run| Some((run, skeds.get(&run.sked)?))) {
                self.told(now, run, sked, heard);
            }
        }
        self.kept.retain(|_, at| now.duration_since(*at) < OFF * 6);
    }

    /// The dial was turned: what the person said of it before holds no longer. The radio says
    /// by itself where it stands.
    fn turned(&mut self, now: Timestamp) {
        let told = self.stands.filter(|stands| stands.by == ToldBy::Person);
        if let Some(stands) = told.filter(|stands| stands.khz.is_some()) {
            let stands = Stands {
                at: now,
                khz: None,
                ..stands
            };
            self.stands = Some(stands);
            self.set.push(stands);
        }
    }

    fn told(&mut self, now: Timestamp, run: &Run, sked: &Sked, heard: &Heard) {
        let name = (run.sked, run.begins);
        let lately = self
            .kept
            .get(&name)
            .is_some_and(|at| now.duration_since(*at) < APART);
        let (Some(dial), Some(stands), false) = (self.known.dial, self.stands, lately) else {
            return;
        };
        // Measured before the dial was set there, it tells nothing.
        if heard.last < stands.at {
            return;
        }
        if let Some((band, found)) = stands.tells(&dial, sked, (now, heard.middle_hz)) {
            self.kept.insert(name, now);
            self.notes.push(Note {
                at: now,
                band,
                found,
                run: name,
            });
        }
    }

    /// What was noticed goes to the shelf.
    pub(super) fn keep(&mut self, shelf: &mut Shelf) -> Result<(), ShelfError> {
        while let Some(stands) = self.set.first() {
            shelf.dial_was_set(stands)?;
            self.set.remove(0);
        }
        while let Some(note) = self.notes.first() {
            let night = night(note.at, &TimeZone::system());
            let found = (note.band, note.found);
            shelf.dial_was_found((note.at, &night), found, Some(note.run))?;
            self.notes.remove(0);
        }
        Ok(())
    }
}

/// The carrier that a dial of this kind shows, kHz, by what the radio is set to: its frequency and
/// its mode in the daemon's word. `None` in a mode that this dial was not described for.
fn carrier(dial: &Dial, hz: f64, mode: &str) -> Option<f64> {
    let fits = match dial.shows {
        Shows::LowerCarrier => matches!(mode, "LSB" | "PKTLSB"),
        Shows::UpperCarrier => matches!(mode, "USB" | "PKTUSB"),
        Shows::Mark | Shows::Heard => false,
    };
    fits.then_some(hz / 1e3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_skeds::watch::{Held, RunState};
    use markhold_skeds::{Channel, Figure, When};

    fn at(s: i64) -> Timestamp {
        Timestamp::from_second(1_793_577_600 + s).unwrap()
    }

    fn sked() -> Sked {
        Sked {
            station: "Q1LMC".into(),
            name: "News".into(),
            sends: String::new(),
            channels: vec![Channel {
                khz: 3597.0,
                means: Figure::Middle,
            }],
            shift_hz: None,
            rate_baud: None,
            mark: None,
            when: When {
                zone: "UTC".into(),
                first: TimeZone::UTC.to_datetime(at(0)),
                rules: vec![],
                except: vec![],
                also: vec![],
            },
            length_min: 30.0,
            place: String::new(),
            notes: String::new(),
            print_on: String::new(),
        }
    }

    fn run() -> Run {
        Run {
            sked: 1,
            title: "News".into(),
            begins: at(0),
            ends: at(1800),
            held: Held::default(),
            state: RunState::Open,
            cause: String::new(),
            kept_in: vec![(7, vec![2])],
            last_heard: None,
            heard_for: SignedDuration::ZERO,
        }
    }

    fn heard(signal: u32, now: i64, middle_hz: f64) -> Heard {
        Heard {
            signal: Some(signal),
            shift_hz: 170.0,
            rate_baud: 45.45,
            mark: None,
            middle_hz,
            middle_khz: None,
            first: at(0),
            last: at(now - 2),
        }
    }

    fn dialling() -> Dialling {
        Dialling::new(DialKnown {
            dial: Some(Dial::default()),
            daemon: None,
        })
    }

    fn by_person(khz: f64) -> Option<Stands> {
        Some(Stands {
            at: at(-600),
            khz: Some(khz),
            on: Some(at(-900)),
            by: ToldBy::Person,
        })
    }

    fn look(dialling: &mut Dialling, now: i64, signals: &[Heard]) {
        let skeds = BTreeMap::from([(1, sked())]);
        let run = run();
        dialling.look(at(now), [&run].into_iter(), (7, signals), &skeds);
    }

    /// 3597 + 2.21 = 3599.21 is right: a dial at 3599.81 reads 600 Hz high, and what is heard
    /// 10 Hz lower says 10 more.
    #[test]
    fn a_run_that_is_heard_tells_every_two_minutes() {
        let mut dialling = dialling();
        dialling.stands = by_person(3599.81);
        for k in 1..=10 {
            let now = 20 * k;
            look(
                &mut dialling,
                now,
                &[heard(2, now, 2200.0 - k as f64), heard(3, now, 900.0)],
            );
        }
        let found: Vec<_> = dialling
            .notes
            .iter()
            .map(|note| (note.at, note.found))
            .collect();
        let times: Vec<_> = found.iter().map(|(at, _)| *at).collect();
        assert_eq!(
            times,
            [at(40), at(160)],
            "the first look has nothing to go by"
        );
        assert_eq!(found[0].1.minutes_on, Some(940.0 / 60.0));
        let errors: Vec<_> = found.iter().map(|f| f.1.reads_high_hz.round()).collect();
        assert_eq!(errors, [612.0, 618.0]);
        assert!(
            dialling
                .notes
                .iter()
                .all(|n| n.band == 3 && n.run == (1, at(0)))
        );
    }

    #[test]
    fn a_dial_that_was_turned_is_not_believed_any_more() {
        let mut dialling = dialling();
        dialling.stands = by_person(3599.81);
        for (now, middle) in [(20, 2210.0), (40, 2310.0), (60, 2310.0), (200, 2310.0)] {
            look(&mut dialling, now, &[heard(2, now, middle)]);
        }
        assert!(dialling.notes.is_empty());
        let stands = dialling.stands.unwrap();
        assert_eq!((stands.khz, stands.on), (None, Some(at(-900))));
        assert_eq!(dialling.set, [stands]);
    }

    #[test]
    fn the_radio_is_followed_and_its_silence_means_that_it_is_cold() {
        let mut dialling = dialling();
        dialling.answered(at(0), Some(Some(3599.81)));
        dialling.answered(at(20), Some(Some(3599.81)));
        assert_eq!(dialling.set.len(), 1, "what stays is not told again");
        // Turned: at the first look after it the tones are where they were.
        look(&mut dialling, 40, &[heard(2, 40, 2210.0)]);
        dialling.answered(at(60), Some(Some(3599.91)));
        look(&mut dialling, 60, &[heard(2, 60, 2310.0)]);
        look(&mut dialling, 80, &[heard(2, 80, 2310.0)]);
        assert_eq!(dialling.notes.len(), 1);
        assert!((dialling.notes[0].found.reads_high_hz - 600.0).abs() < 1e-6);
        // Off, and on again an hour later.
        dialling.answered(at(100), None);
        assert_eq!(dialling.stands.unwrap().khz, None);
        dialling.answered(at(3700), Some(Some(3599.9)));
        assert_eq!(dialling.stands.unwrap().on, Some(at(3700)));
        dialling.answered(at(3720), None);
        dialling.answered(at(3740), Some(Some(3599.9)));
        assert_eq!(dialling.stands.unwrap().on, None, "a moment is no switch");
    }

    #[test]
    fn only_the_mode_that_was_described_shows_a_carrier() {
        let dial = Dial::default();
        assert_eq!(carrier(&dial, 3_599_810.0, "LSB"), Some(3599.81));
        assert_eq!(carrier(&dial, 3_599_810.0, "PKTLSB"), Some(3599.81));
        for mode in ["USB", "RTTY", "CW", ""] {
            assert_eq!(carrier(&dial, 3_599_810.0, mode), None, "{mode}");
        }
    }
}
