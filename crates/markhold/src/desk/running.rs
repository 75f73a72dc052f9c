//! Opens the desk and keeps it open.

use super::keeping::OnShelf;
use super::options::Options;
use crate::outcome::{Outcome, say};
use anyhow::{Context, anyhow};
use markhold_desk::door::Door;
use markhold_desk::inputs::PRACTICE;
use markhold_desk::practice::PracticeReceiver;
use markhold_desk::serve::{open, serve};
use markhold_desk::{Desk, DeskOptions, share};
use markhold_station::live::{self, InUse, KeepNothing, KeepSound, Live, LiveOptions};
use markhold_station::shelf::usual_place;
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
    let live = listen(options)?;
    let desk = desk(options, live.clone(), port)?;
    tell(options, port);
    let stop = async {
        // Without a signal to wait for, the desk stays open until it is killed.
        if tokio::signal::ctrl_c().await.is_err() {
            std::future::pending::<()>().await;
        }
    };
    serve(desk, listener, stop).await?;
    say("Closing the desk.");
    tokio::task::spawn_blocking(move || live.stop()).await?;
    Ok(Outcome::Done)
}

fn practice(options: &Options) -> PracticeReceiver {
    PracticeReceiver::new(options.seed, options.pace)
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

fn listen(options: &Options) -> anyhow::Result<Live> {
    let source = practice(options).source().map_err(|why| anyhow!(why))?;
    let in_use = InUse {
        sideband: Some(live::Sideband::Lower),
        early: true,
        ..InUse::default()
    };
    let keeper: Box<dyn KeepSound> = match shelf(options)? {
        Some(place) => Box::new(OnShelf::new(place, &in_use)),
        None => Box::new(KeepNothing),
    };
    let live = Live::start(
        source,
        LiveOptions {
            in_use,
            keeper,
            ..LiveOptions::default()
        },
    )?;
    Ok(live)
}

fn desk(options: &Options, live: Live, port: u16) -> anyhow::Result<Arc<Desk>> {
    let door = if options.share {
        Door::shared(move |code| show_code(code, port))?
    } else {
        Door::loopback()
    };
    Ok(Desk::new(
        live,
        DeskOptions {
            door,
            inputs: Arc::new(super::inputs::inputs()),
            practice: practice(options),
            input: PRACTICE.into(),
            kept: shelf(options)?.map(|place| place.display().to_string()),
        },
    ))
}

/// Says where the page is; the address alone goes to standard output, for scripts.
fn tell(options: &Options, port: u16) {
    let address = format!("http://localhost:{port}/");
    say("The desk is open. Ctrl-C closes it. The page:");
    println!("{address}");
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
