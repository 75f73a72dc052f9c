//! Opens the desk and keeps it open.

use super::forget::forget_keys;
use super::options::Options;
use super::settings_kept;
use crate::machine::{CAUTION, SettingsMachines};
use crate::outcome::{Outcome, say};
use crate::send::folder_beside;
use crate::skeds::{Book, PRACTICE_WAITS, Receiver, practice_skeds, waits};
use crate::station::Asked;
use crate::stopping;
use crate::wanted::Wanted;
use anyhow::Context;
use markhold_desk::door::{Door, own_name};
use markhold_desk::serve::{open, serve};
use markhold_desk::{Desk, share};
use markhold_shelf::{KeepState, usual_place};
use markhold_sound::Sideband;
use markhold_station::answering::KeyboardSetup;
use markhold_station::practice::PracticeReceiver;
use markhold_station::report::InputReport;
use markhold_station::settings::InUse;
use markhold_station::watching::{Attendant, Listening, Watching};
use markhold_station::{Delivery, Report, Room, Station, Wish};
use std::io::Write;
use std::net::{IpAddr, Ipv4Addr};
use std::path::Path;
use std::sync::Arc;
use tempfile::TempDir;

/// Told wherever the desk is shared.
const UNENCRYPTED: &str = "\
The desk is shared with the local network, and its page travels unencrypted: who can listen there
can read it, and may take a key on its way. Share it only in a network that you trust.
\"markhold --forget-keys\" throws out whoever came with a key.";

/// Opens the desk and serves it until Ctrl-C.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
    if options.forget_keys {
        return forget_keys(options.port);
    }
    // Outside the server's threads: it has a thread of its own.
    stopping::listen().context("signals that stop the program")?;
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .context("the system gives no threads")?;
    runtime.block_on(served(options))
}

async fn served(options: &Options) -> anyhow::Result<Outcome> {
    // The port first: if it is taken, nothing else has been begun.
    let listener = open(options.port, options.share).await?;
    let port = listener.local_addr()?.port();
    let door = match options.share {
        true => {
            say(UNENCRYPTED);
            Door::shared(own_name().as_deref(), move |code| show_code(code, port))?
        }
        false => Door::loopback(),
    };
    // For as long as the desk is open; the folder goes with it.
    let practice = practice_folder(options)?;
    let keyboard = options.keyboard.setup(options.settings.as_ref())?;
    let echo = keyboard.as_ref().map(|keyboard| keyboard.echo.clone());
    let station = station(options, practice.as_ref().map(TempDir::path), keyboard)?;
    let sheet = SettingsMachines::new(options.outfit(), options.to.clone()).sheet();
    let desk = Desk::new(door, station.clone(), sheet);
    let receiver = Receiver::of(options.settings.as_ref())?;
    let machines = SettingsMachines::new(options.outfit(), options.to.clone());
    let machines = Arc::new(machines.echoing(echo));
    let book = Book {
        place: options.skeds_place(),
        practice: station.place_of(Room::Practice).map(Path::to_path_buf),
        receiver,
        machines: machines.clone(),
    };
    // It is set here and nowhere else.
    let _ = desk.skeds.set(Box::new(book));
    let _ = desk.texts.set(folder_beside(options.settings.as_deref()));
    if let Some(on) = options.print_on() {
        station.wish(&Wish::Print(on))?;
        say(CAUTION);
    }
    let waits = waits::of(options.settings.as_ref())?;
    let watching = options.watched_place().map(|place| {
        let listening = Listening::Always(station.clone(), Room::Radio);
        let attendant = Attendant::new(place, listening, waits, |_| {})
            .learning_of(receiver.known())
            .printing_on(machines);
        Watching::start(attendant)
    });
    // What becomes of the practice band's own skeds is kept where practice is, and nowhere else.
    let practised = station.place_of(Room::Practice).map(|place| {
        let listening = Listening::Always(station.clone(), Room::Practice);
        let attendant = Attendant::new(place.into(), listening, PRACTICE_WAITS, |_| {});
        Watching::start(attendant.of(practice_skeds()))
    });
    tell(options, port);
    tell_keeping(&station);
    settings_kept::keep(&station);
    let (stop, stopped) = tokio::sync::oneshot::channel();
    let close = move || {
        say("Closing the desk: the sound is put on the disk first. A second Ctrl-C ends at once.");
        // Serving may have broken off.
        let _ = stop.send(());
    };
    stopping::on_usual_stop(close).context("signals that stop the program")?;
    let stopped = async { drop(stopped.await) };
    serve(Arc::clone(&desk), listener, stopped).await;
    tokio::task::spawn_blocking(move || {
        drop((watching, practised));
        station.stop();
    })
    .await?;
    Ok(Outcome::Done)
}

/// How the evening is kept now.
fn keeping(station: &Station) -> Option<KeepState> {
    station.look(|sum| sum.keeping.clone())
}

/// Says in the terminal what is not kept, and when it is again.
fn tell_keeping(station: &Station) {
    let mut reports = station.reports();
    let state = keeping(station);
    let station = station.clone();
    // Without a thread the page says it.
    let _ = std::thread::Builder::new()
        .name("terminal".into())
        .spawn(move || {
            let mut well = true;
            let mut tell = |state: &KeepState| {
                let since = state
                    .since()
                    .map(|at| at.to_zoned_datetime(jiff::tz::TimeZone::system()));
                match &since {
                    Some(since) => say(&format!(
                        "{} Since {}.",
                        state.words(),
                        since.strftime("%H:%M")
                    )),
                    None if !well => say(&state.words()),
                    None => {}
                }
                well = since.is_none();
            };
            state.iter().for_each(&mut tell);
            while let Some(delivery) = reports.wait() {
                match delivery {
                    Delivery::Report(report) => match &*report {
                        Report::Keeping(state) => tell(state),
                        Report::Input(InputReport::Kept { words, .. }) => say(words),
                        _ => {}
                    },
                    Delivery::Missed(_) => keeping(&station).iter().for_each(&mut tell),
                }
            }
        });
}

/// Where practice is kept, if anything is: never with what was really heard.
fn practice_folder(options: &Options) -> anyhow::Result<Option<TempDir>> {
    if options.no_keep {
        return Ok(None);
    }
    let folder = tempfile::Builder::new()
        .prefix("markhold-practice-")
        .tempdir();
    Ok(Some(folder.context("a folder for practice")?))
}

fn station(
    options: &Options,
    practice: Option<&Path>,
    keyboard: Option<KeyboardSetup>,
) -> anyhow::Result<Station> {
    let wanted = Wanted::of(options.settings.as_ref(), &options.reading, &options.room)?;
    let receiver = || PracticeReceiver::new(options.seed, options.pace);
    let usual = InUse {
        // Usual for radioteletype (common practice); the page can say otherwise.
        sideband: Some(Sideband::Lower),
        early: true,
        language: wanted.language,
        ..InUse::default()
    };
    let kept = match &options.shelf {
        Some(place) => Some(place.clone()),
        None if options.no_keep || options.practice => None,
        None => usual_place(),
    };
    let in_use = kept.map_or(usual, |place| settings_kept::before(&place, usual));
    let asked = Asked {
        input: options.input.clone(),
        channel: options.channel,
        practice: options.practice.then(receiver),
        shelf: options.shelf.clone(),
        practice_shelf: practice.map(|folder| folder.join("shelf")),
        no_keep: options.no_keep,
        wanted,
        machine: (options.outfit(), options.to.clone()),
        keyboard,
        in_use,
        patient: options.input.is_none(),
    };
    asked.start()
}

/// Says where the page is; the address alone goes to standard output, for scripts.
fn tell(options: &Options, port: u16) {
    let address = format!("http://localhost:{port}/");
    say("The desk is open. Ctrl-C closes it. The page:");
    // Whoever started this may have gone away already.
    let _ = writeln!(std::io::stdout(), "{address}");
    if options.open {
        open_browser(&address);
    }
}

fn show_code(code: &str, port: u16) {
    let ip = share::local_address().unwrap_or(IpAddr::V4(Ipv4Addr::LOCALHOST));
    let link = share::link(ip, port, code);
    say(&format!(
        "For a phone or another computer in the local network: {}\nand the code {}, which opens \
         once within 15 minutes; the next one is shown then, or when somebody comes.",
        link.split('#').next().unwrap_or(&link),
        share::shown(code)
    ));
    if let Some(picture) = share::picture(&link) {
        say(&picture);
    }
}

/// Asks the desktop to open the page; where there is none, the address was printed.
fn open_browser(address: &str) {
    let opener = if cfg!(target_os = "macos") {
        "open"
    } else if cfg!(windows) {
        "explorer"
    } else {
        "xdg-open"
    };
    let quiet = std::process::Stdio::null;
    let opened = std::process::Command::new(opener)
        .arg(address)
        .stdout(quiet())
        .stderr(quiet())
        .spawn();
    if opened.is_err() {
        say("No browser could be opened from here; open the address yourself.");
    }
}
