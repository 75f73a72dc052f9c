//! A sound input, copied while it is heard: text in a terminal, the evening on the shelf, and on
//! paper if that is wanted. A view of a station, like the desk.

use super::options::Options;
use super::output::{About, Output};
use super::tally::Tally;
use crate::machine::CAUTION;
use crate::outcome::{Outcome, say};
use crate::station::Asked;
use crate::stopping;
use crate::wanted::{LanguageArgs, RoomArgs, Wanted};
use crate::words;
use anyhow::Context;
use markhold_event::Event;
use markhold_shelf::{KeepState, Shelf};
use markhold_station::report::{InputReport, PaperState};
use markhold_station::settings::InUse;
use markhold_station::{Follower, PrintOn, Report, Station, Wish};
use std::io;

/// Copies until it is told to stop.
pub fn run(options: &Options, input: &str) -> anyhow::Result<Outcome> {
    let machine = options.live_machine()?;
    let on = machine.1.clone().map(|machine| PrintOn {
        machine,
        ..PrintOn::default()
    });
    let station = start(options, input, machine)?;
    let follower = station.follow();
    end_when_told(station.clone())?;
    if let Some(on) = on {
        station.wish(&Wish::Print(on))?;
        say(CAUTION);
    }
    let mut copying = Terminal {
        channel: options.channel(),
        output: &mut *options.text(),
        tally: Tally::default(),
        paper: PaperState::default(),
        well_kept: true,
    };
    let copied = copying.run(&station, follower);
    // Also where the output broke.
    station.stop();
    copied.context("standard output")?;
    say(&kept(&station));
    Ok(match copying.tally.characters {
        0 => Outcome::NothingFound,
        _ => Outcome::Done,
    })
}

fn start(
    options: &Options,
    input: &str,
    machine: (crate::machine::Outfit, Option<String>),
) -> anyhow::Result<Station> {
    let reading = LanguageArgs {
        language: options.asked_language(),
        ..LanguageArgs::default()
    };
    let settings = machine.0.settings.as_ref();
    let wanted = Wanted::of(settings, &reading, &RoomArgs::default())?;
    let asked = Asked {
        input: Some(input.into()),
        channel: options.channel(),
        practice: None,
        practice_shelf: None,
        shelf: options.live.shelf.clone(),
        no_keep: options.live.no_keep,
        in_use: InUse {
            language: wanted.language,
            ..options.in_use()
        },
        wanted,
        machine,
        keyboard: None,
        patient: false,
    };
    asked.start()
}

/// Ends the station where the program is told to stop.
fn end_when_told(station: Station) -> anyhow::Result<()> {
    let end = move || {
        say("Ending; what was heard is copied to its end. Ctrl-C again ends at once.");
        station.stop();
    };
    stopping::on_usual_stop(end).context("signals that stop the program")
}

/// What is kept of the evening, and where.
fn kept(station: &Station) -> String {
    let Some(place) = station.place() else {
        return "Nothing is kept of it.".into();
    };
    let newest = Shelf::open(place).and_then(|shelf| shelf.evenings(None, None, 1));
    match newest.as_deref() {
        Ok([evening]) => format!(
            "Kept as evening {} in {}: {} of sound, {} characters.",
            evening.id,
            place.display(),
            words::time(evening.sound_s),
            evening
                .best_reading()
                .map_or(0, |reading| reading.characters)
        ),
        Ok(_) => format!("Nothing of it is in {}: no sound came.", place.display()),
        Err(error) => format!("{}: {error}", place.display()),
    }
}

struct Terminal<'a> {
    channel: u16,
    output: &'a mut dyn Output,
    tally: Tally,
    paper: PaperState,
    well_kept: bool,
}

impl Terminal<'_> {
    /// Prints until nothing more comes.
    fn run(&mut self, station: &Station, mut follower: Follower) -> io::Result<()> {
        while let Some(report) = follower.wait() {
            self.take(&report)?;
        }
        let (name, length_s) = station.look(|sum| (sum.name.clone(), sum.until_s));
        self.output.end(&self.tally.end(&name, length_s))?;
        self.output.flush()
    }

    fn take(&mut self, report: &Report) -> io::Result<()> {
        match report {
            Report::Event(event) => self.event(event),
            Report::Input(input) => {
                in_words(input).iter().for_each(|line| say(line));
                match input {
                    InputReport::Listening { name, rate, anchor } => self.output.begin(&About {
                        name,
                        rate: *rate,
                        channel: self.channel,
                        channels: self.channel,
                        begin: Some(anchor.utc.to_string()),
                        clock: None,
                    }),
                    _ => Ok(()),
                }
            }
            Report::Keeping(state) => {
                self.keeping(state);
                Ok(())
            }
            Report::Paper(state) => {
                self.paper(state);
                Ok(())
            }
            _ => Ok(()),
        }
    }

    /// Prints an event, then says what there is to say about it.
    fn event(&mut self, event: &Event) -> io::Result<()> {
        self.output.event(event)?;
        self.output.flush()?;
        self.tally.count(event).iter().for_each(|line| say(line));
        Ok(())
    }

    /// Says what is not kept, and that all is kept again.
    fn keeping(&mut self, state: &KeepState) {
        let well = state.since().is_none();
        if !well || !self.well_kept {
            say(&state.words());
        }
        self.well_kept = well;
    }

    /// Says what is new and wrong with the machine, and that it is well again.
    fn paper(&mut self, state: &PaperState) {
        let name = state.machine.as_deref().unwrap_or("the machine");
        let before = std::mem::replace(&mut self.paper, state.clone());
        match &state.error {
            Some(error) if before.error != state.error => say(&format!("{name}: {error}")),
            None if before.error.is_some() => say(&format!("{name}: back")),
            _ => {}
        }
        if let Some(why) = state
            .not_kept
            .as_ref()
            .filter(|_| before.not_kept.is_none())
        {
            say(&format!("{name}: the record cannot be written: {why}"));
        }
    }
}

/// What happened to the input, for a person.
fn in_words(input: &InputReport) -> Option<String> {
    Some(match input {
        InputReport::Listening { name, rate, .. } => {
            format!("Listening to {name} at {rate} Hz. Ctrl-C ends.")
        }
        InputReport::Gap { at_s, lost_s } => {
            format!("{}  the sound card lost {lost_s:.2} s", words::time(*at_s))
        }
        InputReport::Lost { at_s } => {
            format!("{}  the sound card lost some sound", words::time(*at_s))
        }
        InputReport::Gone { at_s, why } => format!("{}  no sound: {why}", words::time(*at_s)),
        InputReport::Back { at_s, lost_s, .. } => {
            let at = words::time(*at_s);
            format!("{at}  sound again; {lost_s:.1} s are missing")
        }
        InputReport::Behind { at_s, lost_s } => format!(
            "{}  this computer was too slow and left out {lost_s:.1} s of the copy; what is kept is \
             complete",
            words::time(*at_s)
        ),
        InputReport::Kept { words: told, .. } => told.clone(),
        InputReport::ClockSet { at_s, .. } => format!(
            "{}  the computer's clock was set; times go on as before",
            words::time(*at_s)
        ),
        InputReport::Ended { why, .. } => why.clone()?,
    })
}
