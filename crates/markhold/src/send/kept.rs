//! What `markhold send` sent, on the shelf: an evening without sound, whose lines have a direction.

use super::Options;
use crate::outcome::say;
use jiff::Timestamp;
use jiff::tz::TimeZone;
use markhold_event::SentLine;
use markhold_shelf::{Evening, KeepSettings, Keeper, Shelf, usual_place};
use markhold_wire::transmit::TransmitterPlan;
use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// An evening needs a rate though there is no sound in it, samples per second.
const RATE: u32 = 8000;
/// How long the archive may take to give the evening a number: it may be busy with another's.
const NUMBER: Duration = Duration::from_secs(5);

/// Where lines are kept as they go out.
pub struct Kept(Mutex<Option<Keeping>>);

struct Keeping {
    place: PathBuf,
    keeper: Keeper,
    begun: Instant,
    /// Number of the line that goes out, and when it began, s.
    line: Option<(u64, f64)>,
}

impl Kept {
    /// On the shelf that is there, unless nothing is to be kept; a shelf that is named is made.
    /// What is not kept is told, and hinders nobody from sending.
    pub fn begin(options: &Options, plan: &TransmitterPlan) -> Kept {
        if options.no_keep {
            return Kept(Mutex::default());
        }
        let named = options.shelf.as_ref();
        let Some(place) = named.cloned().or_else(usual_place) else {
            return Kept(Mutex::default());
        };
        let there = match named {
            Some(place) => Shelf::make(place).map(drop),
            None => Shelf::open(&place).map(drop),
        };
        if let Err(error) = there {
            if named.is_some() || place.exists() {
                say(&format!(
                    "what is sent is not kept: {}: {error}",
                    place.display()
                ));
            }
            return Kept(Mutex::default());
        }
        let way = plan.way.as_ref().map(ToString::to_string);
        let evening = Evening {
            begin: Timestamp::now().to_zoned_datetime(TimeZone::system()),
            input: format!("markhold send, {}", way.unwrap_or_default()),
            rate: RATE,
            settings: serde_json::json!({}),
        };
        let settings = KeepSettings {
            // Whoever listens looks after the shelf.
            care: false,
            ..KeepSettings::default()
        };
        match Keeper::begin(&place, evening, settings) {
            Ok(keeper) => Kept(Mutex::new(Some(Keeping {
                place,
                keeper,
                begun: Instant::now(),
                line: None,
            }))),
            Err(error) => {
                say(&format!("what is sent is not kept: {error}"));
                Kept(Mutex::default())
            }
        }
    }

    /// A line goes out, or has grown.
    pub fn sent(&self, line: SentLine) {
        if let Some(keeping) = &mut *self.keeping() {
            keeping.sent(line);
        }
    }

    fn keeping(&self) -> MutexGuard<'_, Option<Keeping>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Everything has gone; says where it is kept.
    pub fn finish(&self) {
        let Some(keeping) = self.keeping().take() else {
            return;
        };
        let Keeping { place, keeper, .. } = keeping;
        let evening = keeper.wait_for_evening(NUMBER);
        match (keeper.finish(), evening) {
            (Ok(()), Some(evening)) => say(&format!(
                "Kept as evening {evening} in {}.",
                place.display()
            )),
            (Ok(()), None) => say(&format!("Nothing of it is kept in {}.", place.display())),
            (Err(error), _) => say(&format!("{}: {error}", place.display())),
        }
    }
}

impl Keeping {
    /// A line stands where it began.
    fn sent(&mut self, line: SentLine) {
        let at_s = match self.line {
            Some((number, at_s)) if number == line.number => at_s,
            _ => self.begun.elapsed().as_secs_f64(),
        };
        self.line = Some((line.number, at_s));
        self.keeper.sent(SentLine { at_s, ..line });
    }
}
