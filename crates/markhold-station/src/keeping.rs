//! The evening is kept without asking: the live path's keeper on the shelf.

use crate::live::{KeepSound, KeepTold};
use crate::report::Anchor;
use jiff::tz::TimeZone;
use markhold_event::{Event, SentLine};
use markhold_receive::Settings;
use markhold_shelf::{Evening, GapCause, KeepSettings, KeepState, Keeper, settings_to_json};
use std::path::PathBuf;

/// Keeps an evening on the shelf in a folder, from the first sound on.
pub struct OnShelf {
    // Configured.
    place: PathBuf,
    settings: serde_json::Value,
    keep: KeepSettings,
    // State: the keeper, and the live time at which its receiver's time begins, s.
    keeper: Option<Keeper>,
    begin_s: f64,
    /// What was sent before there was any sound.
    waiting: Vec<SentLine>,
    /// Which state was told last.
    told: u64,
    /// Whether the evening's number was told.
    named: bool,
    /// Why there is no keeper.
    broken: Option<String>,
}

impl OnShelf {
    /// Nothing is written before there is sound.
    pub fn new(place: PathBuf, settings: &Settings, keep: KeepSettings) -> Self {
        Self {
            place,
            settings: settings_to_json(settings),
            keep,
            keeper: None,
            begin_s: 0.0,
            waiting: Vec::new(),
            told: u64::MAX,
            named: false,
            broken: None,
        }
    }

    /// Not even a keeper could begin.
    fn nothing_kept(&self, why: String) -> [KeepTold; 2] {
        let state = KeepState::failed(self.place.display().to_string());
        [KeepTold::State(state), KeepTold::Notice(why)]
    }
}

impl KeepSound for OnShelf {
    fn begin(&mut self, source: &str, rate: u32, anchor: &Anchor, before: GapCause) {
        self.begin_s = anchor.at_s;
        if let Some(keeper) = &self.keeper {
            keeper.restart(source, rate, anchor.utc, before);
            return;
        }
        let evening = Evening {
            begin: anchor.utc.to_zoned_datetime(TimeZone::system()),
            input: source.into(),
            rate,
            settings: self.settings.clone(),
        };
        match Keeper::begin(&self.place, evening, self.keep.clone()) {
            Ok(keeper) => {
                self.keeper = Some(keeper);
                let waiting = std::mem::take(&mut self.waiting);
                waiting.iter().for_each(|line| self.sent(line));
            }
            Err(error) => self.broken = Some(format!("Nothing is kept: {error}.")),
        }
    }

    fn sound(&mut self, samples: &[f32]) {
        if let Some(keeper) = &self.keeper {
            keeper.sound(samples);
        }
    }

    fn gap(&mut self, lost: Option<u64>, cause: GapCause) {
        if let Some(keeper) = &self.keeper {
            keeper.gap(lost, cause);
        }
    }

    fn event(&mut self, event: &Event) {
        if let Some(keeper) = &self.keeper {
            keeper.event(&event.clone().placed(-self.begin_s, 0));
        }
    }

    fn sent(&mut self, line: &SentLine) {
        match &self.keeper {
            Some(keeper) => {
                let at_s = (line.at_s - self.begin_s).max(0.0);
                keeper.sent(SentLine {
                    at_s,
                    ..line.clone()
                });
            }
            None => self.waiting.push(line.clone()),
        }
    }

    fn copied(&mut self, until_s: f64) {
        // Right after a change of input the copy of the one before may still be going on.
        let until_s = until_s - self.begin_s;
        if let Some(keeper) = self.keeper.as_ref().filter(|_| until_s >= 0.0) {
            keeper.copied(until_s);
        }
    }

    fn settings(&mut self, settings: &Settings) {
        self.settings = settings_to_json(settings);
        if let Some(keeper) = &self.keeper {
            keeper.settings(self.settings.clone());
        }
    }

    fn clock_step(&mut self, by_s: f64) {
        if let Some(keeper) = &self.keeper {
            keeper.clock_step(by_s);
        }
    }

    fn told(&mut self) -> Vec<KeepTold> {
        let Some(keeper) = &self.keeper else {
            let broken = self.broken.take().into_iter();
            return broken.flat_map(|why| self.nothing_kept(why)).collect();
        };
        let (revision, state) = keeper.state();
        let changed = std::mem::replace(&mut self.told, revision) != revision;
        let state = changed.then_some(KeepTold::State(state));
        let number = keeper.evening().filter(|_| !self.named);
        self.named |= number.is_some();
        let notices = keeper.notices().into_iter();
        let notices = notices.map(|notice| KeepTold::Notice(notice.to_string()));
        let number = number.map(KeepTold::Evening);
        state.into_iter().chain(number).chain(notices).collect()
    }

    fn end_of_sound(&mut self) {
        if let Some(keeper) = &mut self.keeper {
            keeper.end_of_sound();
        }
    }

    fn finish(&mut self) -> Result<(), String> {
        match self.keeper.take() {
            Some(keeper) => keeper.finish().map_err(|error| error.to_string()),
            None => Ok(()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use markhold_shelf::Shelf;

    #[test]
    fn sound_is_on_the_shelf_afterwards() {
        let folder = tempfile::tempdir().expect("a folder");
        let (place, settings) = (folder.path().join("shelf"), Settings::default());
        let mut kept = OnShelf::new(place.clone(), &settings, KeepSettings::default());
        let anchor = |at_s: f64, second: i64| Anchor {
            at_s,
            utc: jiff::Timestamp::from_second(1_790_000_000 + second).expect("a time"),
        };
        kept.begin("first", 8000, &anchor(0.0, 0), GapCause::Stopped);
        kept.sound(&[0.1; 16_000]);
        kept.gap(Some(4_000), GapCause::Device);
        kept.gap(None, GapCause::Lost);
        kept.begin("second", 8000, &anchor(3.0, 3), GapCause::Stopped);
        kept.sound(&[0.1; 8_000]);
        kept.finish().expect("finished");
        let shelf = Shelf::open(&place).expect("a shelf");
        let evening = shelf.evening(1).expect("an evening");
        assert!((evening.sound_s - 3.0).abs() < 1e-6, "{}", evening.sound_s);
        assert!(evening.end.is_some());
        let gaps = evening.gaps.iter().map(|gap| (gap.length_s, gap.cause));
        assert_eq!(
            gaps.collect::<Vec<_>>(),
            [
                (Some(0.5), GapCause::Device),
                (None, GapCause::Lost),
                (Some(0.5), GapCause::Stopped)
            ]
        );
    }
}
