//! A station as the command line asks for it, for whoever shows it: the desk or a terminal.

use crate::machine::{Outfit, SettingsMachines};
use crate::send::SettingsAir;
use crate::wanted::Wanted;
use anyhow::Context;
use markhold_shelf::{KeepSettings, Shelf, usual_place};
use markhold_sound::device::InputId;
use markhold_station::answering::KeyboardSetup;
use markhold_station::inputs::{PRACTICE, SystemInputs, named};
use markhold_station::live::Clocks;
use markhold_station::practice::PracticeReceiver;
use markhold_station::settings::InUse;
use markhold_station::{Shelved, Station, StationOptions};
use std::path::PathBuf;
use std::sync::Arc;

/// Most sound of practice, bytes: some four hours.
const PRACTICE_BYTES: u64 = 256 << 20;

/// What the command line says of the station.
pub struct Asked {
    /// A part of the input's name; `None` = the system's, and it may be missing.
    pub input: Option<String>,
    /// Which of its channels is heard, counted from 1.
    pub channel: u16,
    /// The practice band is listened to, with this receiver.
    pub practice: Option<PracticeReceiver>,
    /// Folder of the shelf, if not the usual one.
    pub shelf: Option<PathBuf>,
    /// Folder in which practice is kept by itself; `None` = it is not.
    pub practice_shelf: Option<PathBuf>,
    /// Nothing is kept.
    pub no_keep: bool,
    /// What is wanted of the shelf.
    pub wanted: Wanted,
    /// The machine that is named, and what is told of it.
    pub machine: (Outfit, Option<String>),
    /// Its own keyboard, if it is listened to.
    pub keyboard: Option<KeyboardSetup>,
    /// What is set at the start.
    pub in_use: InUse,
    /// Begins even where the input cannot be opened, and waits for another to be chosen.
    pub patient: bool,
}

impl Asked {
    /// Begins.
    pub fn start(self) -> anyhow::Result<Station> {
        let id = match (&self.practice, &self.input) {
            (Some(_), _) => PRACTICE.into(),
            (None, Some(part)) => named(part).map_err(anyhow::Error::msg)?.0,
            (None, None) => InputId::system_default().0,
        };
        let shelf = self.shelf()?;
        let learned = match &shelf {
            Some(shelf) if self.wanted.learns() => match Shelf::make(&shelf.place) {
                Ok(mut shelf) => self.wanted.learned(&mut shelf),
                // The keeper says so, and listening begins nevertheless.
                Err(_) => None,
            },
            _ => None,
        };
        let practice_shelf = self.practice_shelf();
        let (outfit, to) = self.machine;
        let echo = self.keyboard.as_ref().map(|keyboard| keyboard.echo.clone());
        let machines = SettingsMachines::new(outfit.clone(), to).echoing(echo);
        let options = StationOptions {
            in_use: self.in_use,
            learned,
            shelf,
            practice_shelf,
            inputs: Arc::new(SystemInputs {
                channel: self.channel,
            }),
            air: Arc::new(SettingsAir(outfit)),
            machines: Arc::new(machines),
            keyboard: self.keyboard,
            practice: self
                .practice
                .unwrap_or_else(|| PracticeReceiver::new(1, 1.0)),
            patient: self.patient,
            clocks: Arc::new(Clocks::default),
        };
        Ok(Station::start(options, &id)?)
    }

    /// Practice needs a shelf too: who learns wants to find again what was copied.
    fn practice_shelf(&self) -> Option<Shelved> {
        self.practice_shelf.clone().map(|place| Shelved {
            words: "a shelf for practice, which is gone when markhold ends".into(),
            keep: KeepSettings {
                sound_bytes: PRACTICE_BYTES,
                care: false,
                ..self.wanted.keep.clone()
            },
            practice: true,
            place,
        })
    }

    /// Where evenings are kept. Practice is kept there only where a folder is named.
    fn shelf(&self) -> anyhow::Result<Option<Shelved>> {
        let practises = self.practice.is_some();
        let place = match &self.shelf {
            Some(place) => place.clone(),
            None if self.no_keep || practises => return Ok(None),
            None => usual_place().context(
                "no home folder to keep the evening in; name one with --shelf DIR, or give \
                 --no-keep",
            )?,
        };
        let learns = match self.wanted.learns() {
            true => "; this shelf learns from its own sure copy",
            false => "",
        };
        Ok(Some(Shelved {
            words: format!("{}{learns}", place.display()),
            keep: self.wanted.keep.clone(),
            practice: practises,
            place,
        }))
    }
}
