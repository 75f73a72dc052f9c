//! `markhold skeds watch`: skeds copied without a page, while nobody is there.

use super::options::Watch;
use super::{Receiver, waits};
use crate::machine::{CAUTION, Outfit, SettingsMachines};
use crate::outcome::{Outcome, say};
use crate::station::Asked;
use crate::stopping;
use crate::wanted::Wanted;
use anyhow::Context;
use markhold_shelf::Shelf;
use markhold_skeds::Sked;
use markhold_sound::Sideband;
use markhold_station::settings::InUse;
use markhold_station::watching::{Attendant, Listening, Watching};
use markhold_station::{Station, Wish};
use std::path::PathBuf;
use std::sync::Arc;

/// Looks after the skeds of the shelf in the folder `place` until it is told to stop.
pub fn run(place: PathBuf, settings: Option<&PathBuf>, watch: &Watch) -> anyhow::Result<Outcome> {
    // The folder is there from now on, so that skeds may be added while this runs.
    let skeds = Shelf::make(&place)?.skeds()?;
    let waits = waits::of(settings)?;
    let receiver = Receiver::of(settings)?;
    // What the command line changes of a machine counts for bulletins, too.
    let outfit = watch.along.outfit(settings);
    let machines = Arc::new(SettingsMachines::new(outfit, watch.to.clone()));
    let prints = |sked: &Sked| !sked.print_on.trim().is_empty();
    if watch.to.is_some() || skeds.values().any(prints) {
        say(CAUTION);
    }
    let opening = Opening {
        place: place.clone(),
        wanted: Wanted::of(settings, &watch.reading, &watch.room)?,
        outfit: watch.along.outfit(settings),
        watch: watch.clone(),
    };
    let (stop, stopped) = std::sync::mpsc::channel::<()>();
    let end = move || drop(stop);
    stopping::on_usual_stop(end).context("signals that stop the program")?;
    let listening = Listening::when_due(Box::new(move || {
        opening.station().map_err(|error| format!("{error:#}"))
    }));
    let attendant = Attendant::new(place.clone(), listening, waits, say)
        .learning_of(receiver.known())
        .printing_on(machines);
    let watching = Watching::start(attendant).context("the system gives no thread")?;
    say(&format!(
        "Skeds of {} are looked after. Ctrl-C ends it.",
        place.display()
    ));
    // It ends by nothing being left who could say something.
    let _ = stopped.recv();
    say("Ending; what was heard is copied to its end. Ctrl-C again ends at once.");
    drop(watching);
    Ok(Outcome::Done)
}

/// What an evening is begun with.
struct Opening {
    place: PathBuf,
    wanted: Wanted,
    outfit: Outfit,
    watch: Watch,
}

impl Opening {
    fn station(&self) -> anyhow::Result<Station> {
        let watch = &self.watch;
        let asked = Asked {
            input: watch.input.clone(),
            channel: watch.channel,
            practice: None,
            practice_shelf: None,
            shelf: Some(self.place.clone()),
            no_keep: false,
            wanted: self.wanted.clone(),
            machine: (self.outfit.clone(), watch.to.clone()),
            in_use: InUse {
                // Usual for radioteletype (common practice).
                sideband: Some(Sideband::from(watch.sideband)),
                // Several skeds may be on at once.
                all: true,
                early: watch.to.is_some(),
                language: self.wanted.language,
                ..InUse::default()
            },
            // An input that is in use is tried again at the next look.
            keyboard: None,
            patient: false,
        };
        let station = asked.start()?;
        if let Some(machine) = &watch.to {
            let on = watch.along.print_on(machine);
            // What cannot be printed is kept all the same.
            if let Err(error) = station.wish(&Wish::Print(on)) {
                say(&format!("markhold: nothing is printed: {error}"));
            }
        }
        Ok(station)
    }
}
