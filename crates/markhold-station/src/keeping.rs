//! The evening is kept without asking: the live path's keeper on the shelf.

use crate::live::KeepSound;
use crate::report::Anchor;
use jiff::tz::TimeZone;
use markhold_event::Event;
use markhold_receive::Settings;
use markhold_shelf::{Evening, GapCause, KeepNotice, KeepSettings, Keeper, settings_to_json};
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
        }
    }

    /// What the keeper has to say and is not good.
    fn told(&self) -> Result<(), String> {
        let notices = self.keeper.as_ref().map(Keeper::notices);
        let bad = |notice: &KeepNotice| {
            !matches!(
                notice,
                KeepNotice::RecordingResumed { .. }
                    | KeepNotice::CopySaved
                    | KeepNotice::SoundRemoved { .. }
            )
        };
        match notices.into_iter().flatten().find(bad) {
            Some(notice) => Err(notice.to_string()),
            None => Ok(()),
        }
    }
}

impl KeepSound for OnShelf {
    fn begin(
        &mut self,
        source: &str,
        rate: u32,
        anchor: &Anchor,
        before: GapCause,
    ) -> Result<(), String> {
        self.begin_s = anchor.at_s;
        if let Some(keeper) = &self.keeper {
            keeper.restart(source, rate, anchor.utc, before);
            return self.told();
        }
        let evening = Evening {
            begin: anchor.utc.to_zoned_datetime(TimeZone::system()),
            input: source.into(),
            rate,
            settings: self.settings.clone(),
        };
        let keeper = Keeper::begin(&self.place, evening, self.keep.clone());
        self.keeper = Some(keeper.map_err(|error| error.to_string())?);
        Ok(())
    }

    fn sound(&mut self, samples: &[f32]) -> Result<(), String> {
        if let Some(keeper) = &self.keeper {
            keeper.sound(samples);
        }
        self.told()
    }

    fn gap(&mut self, lost: Option<u64>, cause: GapCause) -> Result<(), String> {
        if let Some(keeper) = &self.keeper {
            keeper.gap(lost, cause);
        }
        self.told()
    }

    fn event(&mut self, event: &Event) -> Result<(), String> {
        if let Some(keeper) = &self.keeper {
            keeper.event(&event.clone().placed(-self.begin_s, 0));
        }
        Ok(())
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
        kept.begin("first", 8000, &anchor(0.0, 0), GapCause::Stopped)
            .expect("begun");
        kept.sound(&[0.1; 16_000]).expect("kept");
        kept.gap(Some(4_000), GapCause::Device).expect("marked");
        kept.gap(None, GapCause::Lost).expect("marked");
        kept.begin("second", 8000, &anchor(3.0, 3), GapCause::Stopped)
            .expect("begun");
        kept.sound(&[0.1; 8_000]).expect("kept");
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
