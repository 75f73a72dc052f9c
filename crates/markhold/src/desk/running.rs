//! Opens the desk and keeps it open.

use super::inputs::{SystemInputs, named};
use super::keeping::OnShelf;
use super::machines::SettingsMachines;
use super::options::Options;
use crate::machine::CAUTION;
use crate::outcome::{Outcome, say};
use crate::shelf::learn::learned;
use crate::shelf::wanted::Wanted;
use crate::stopping::Signals;
use anyhow::{Context, anyhow};
use markhold_desk::door::Door;
use markhold_desk::inputs::{Inputs, Missing, PRACTICE};
use markhold_desk::practice::PracticeReceiver;
use markhold_desk::serve::{open, serve};
use markhold_desk::{Desk, DeskOptions, share};
use markhold_receive::Settings;
use markhold_shelf::{KeepState, Shelf, usual_place};
use markhold_sound::Source;
use markhold_sound::device::InputId;
use markhold_station::live::{
    Delivery, InUse, InputReport, KeepNothing, KeepSound, Live, LiveOptions, Report,
};
use std::io::Write;
use std::net::{IpAddr, Ipv4Addr};
use std::path::PathBuf;
use std::sync::Arc;

/// Opens the desk and serves it until Ctrl-C.
pub fn run(options: &Options) -> anyhow::Result<Outcome> {
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
    let practice = PracticeReceiver::new(options.seed, options.pace);
    let (source, input) = source(options, &practice)?;
    let wanted = Wanted::of(options.settings.as_ref(), &options.reading, &options.room)?;
    let live = listen(options, &wanted, source)?;
    let kept = kept(options, &wanted)?;
    let desk = desk(options, live.clone(), practice, (input, port), kept)?;
    print(options, &desk)?;
    tell(options, port);
    tell_keeping(&desk.live);
    serve(Arc::clone(&desk), listener, told_to_stop()).await?;
    say("Closing the desk: the sound is put on the disk first. A second Ctrl-C ends at once.");
    let ended = tokio::spawn(end_at_once());
    // The machine first: its line is in mark before anything that may take longer.
    let closed = tokio::task::spawn_blocking(move || {
        desk.printing.stop();
        live.stop();
    });
    closed.await?;
    ended.abort();
    Ok(Outcome::Done)
}

/// Ends at the next Ctrl-C, whatever is still going on. Sound is on the disk by then, and copy
/// that is missing is copied again from it.
async fn end_at_once() {
    told_to_stop().await;
    say("Ended at once. What is not copied is copied again at the next start.");
    std::process::exit(Outcome::Failed.code().into());
}

/// Says in the terminal what is not kept, and when it is again.
fn tell_keeping(live: &Live) {
    let (snapshot, mut reports) = live.join();
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
            snapshot.keeping.iter().for_each(&mut tell);
            while let Some(delivery) = reports.wait() {
                match delivery {
                    Delivery::Report(report) => match &*report {
                        Report::Keeping(state) => tell(state),
                        Report::Input(InputReport::Kept { words, .. }) => say(words),
                        _ => {}
                    },
                    // What it missed it is told with the next change.
                    Delivery::Missed(_) => {}
                }
            }
        });
}

/// Begins to print where that was asked for.
fn print(options: &Options, desk: &Desk) -> anyhow::Result<()> {
    let Some(on) = options.print_on() else {
        return Ok(());
    };
    desk.print(&on).map_err(|why| anyhow!(why))?;
    say(CAUTION);
    Ok(())
}

/// What is listened to at the start, and its id. An input that was not named and cannot be
/// opened is no reason not to open the desk: there another can be chosen.
fn source(
    options: &Options,
    practice: &PracticeReceiver,
) -> anyhow::Result<(Box<dyn Source>, String)> {
    if options.practice {
        let source = practice.source().map_err(|why| anyhow!(why))?;
        return Ok((source, PRACTICE.into()));
    }
    let id = match &options.input {
        Some(part) => named(part).map_err(|why| anyhow!(why))?,
        None => InputId::system_default(),
    };
    let source = match inputs(options).open(&id.0) {
        Ok(source) => source,
        Err(why) if options.input.is_none() => Box::new(Missing::new(why)),
        Err(why) => return Err(anyhow!(why)),
    };
    Ok((source, id.0))
}

/// Waits for Ctrl-C, the system that ends programs, or a terminal that is closed; then the
/// evening is finished.
async fn told_to_stop() {
    match Signals::new() {
        Ok(mut signals) => drop(signals.next().await),
        // Without a signal to wait for, the desk stays open until it is killed.
        Err(_) => std::future::pending().await,
    }
}

fn inputs(options: &Options) -> SystemInputs {
    SystemInputs {
        channel: options.channel,
    }
}

/// Where the evening is kept. Practice is kept only where a folder is named.
fn shelf(options: &Options) -> anyhow::Result<Option<PathBuf>> {
    if let Some(place) = &options.shelf {
        return Ok(Some(place.clone()));
    }
    if options.no_keep || options.practice {
        return Ok(None);
    }
    let usual = usual_place().context(
        "no home folder to keep the evening in; name one with --shelf DIR, or give --no-keep",
    )?;
    Ok(Some(usual))
}

/// Where the evening is kept, in words for the page.
fn kept(options: &Options, wanted: &Wanted) -> anyhow::Result<Option<String>> {
    let learns = match wanted.learns() {
        true => "; this shelf learns from its own sure copy",
        false => "",
    };
    let place = shelf(options)?;
    Ok(place.map(|place| format!("{}{learns}", place.display())))
}

fn listen(options: &Options, wanted: &Wanted, source: Box<dyn Source>) -> anyhow::Result<Live> {
    let in_use = InUse {
        // Usual for radioteletype (common practice); the page can say otherwise.
        sideband: Some(markhold_sound::Sideband::Lower),
        early: true,
        language: wanted.language,
        ..InUse::default()
    };
    let place = shelf(options)?;
    let learned = match &place {
        Some(place) if wanted.learns() => match Shelf::make(place) {
            Ok(mut shelf) => learned(&mut shelf, wanted),
            // The keeper says so, and the desk opens nevertheless.
            Err(_) => None,
        },
        _ => None,
    };
    let settings = Settings {
        learned: learned.clone(),
        ..in_use.settings()
    };
    let keeper: Box<dyn KeepSound> = match place {
        Some(place) => Box::new(OnShelf::new(place, &settings, wanted.keep.clone())),
        None => Box::new(KeepNothing),
    };
    let live = Live::start(
        source,
        LiveOptions {
            in_use,
            learned,
            keeper,
            ..LiveOptions::default()
        },
    )?;
    Ok(live)
}

fn desk(
    options: &Options,
    live: Live,
    practice: PracticeReceiver,
    (input, port): (String, u16),
    kept: Option<String>,
) -> anyhow::Result<Arc<Desk>> {
    let door = if options.share {
        Door::shared(move |code| show_code(code, port))?
    } else {
        Door::loopback()
    };
    Ok(Desk::new(
        live,
        DeskOptions {
            door,
            inputs: Arc::new(inputs(options)),
            practice,
            input,
            kept,
            machines: Arc::new(SettingsMachines::new(options)),
            record: shelf(options)?.map(|place| place.join("paper")),
            sheet: SettingsMachines::new(options).sheet(),
        },
    ))
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
         once; the next one is shown then.",
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
