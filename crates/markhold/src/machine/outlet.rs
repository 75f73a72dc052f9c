//! Where orders go: to the machine, onto a page, or both.

use super::Outfit;
use super::page_file;
use super::preview::Preview;
use crate::outcome::{Outcome, say};
use crate::stopping;
use crate::words;
use anyhow::{Context, bail};
use markhold_page::{Machine, Order, Ordered, render};
use markhold_wire::play::{News, PaperRecord, Patience, Player, Setup};
use std::io::Write;
use std::path::PathBuf;
use std::sync::{Arc, Weak};
use std::time::{Duration, Instant};

/// Between two looks at the player, and two attempts to open a way that was lost.
const LOOK: Duration = Duration::from_millis(50);
const RETRY: Duration = Duration::from_secs(1);

/// How long a player may take to leave the line in mark and switch the motor off when it is
/// stopped: a character takes 0.17 s at 45 baud. One that opens a way just then is left to
/// itself, and to the guardian.
const LEAVE: Duration = Duration::from_secs(2);

/// Said whenever something may begin to move.
pub const CAUTION: &str = "caution: keep clear of loop, mains and moving parts; local codes and \
                       licensed practice come first";

/// Takes orders.
pub struct Outlet {
    // Configured.
    name: String,
    machine: Machine,
    page: Option<PathBuf>,
    // State.
    /// `None` = nothing is sent.
    player: Option<Arc<Player>>,
    preview: Option<Preview>,
}

impl Outlet {
    /// Opens the way to a machine, unless nothing is to be sent.
    pub fn open(name: &str, setup: &Setup, outfit: &Outfit) -> anyhow::Result<Outlet> {
        outfit.page.as_deref().map_or(Ok(()), page_file::check)?;
        let shown = outfit.dry || outfit.page.is_some();
        if setup.way.is_none() && !shown {
            bail!(super::no_way(name));
        }
        let player = match setup.way.is_some() && !outfit.dry {
            true => Some(player(name, setup, outfit)?),
            false => None,
        };
        Ok(Outlet {
            name: name.to_string(),
            machine: setup.machine.clone(),
            page: outfit.page.clone(),
            player,
            preview: shown.then(|| Preview::new(&setup.machine)),
        })
    }

    /// Says how long these orders will take, where they are sent.
    pub fn say_length(&self, orders: &[Ordered]) {
        let speed = self.machine.speed();
        let seconds: f64 = orders
            .iter()
            .map(|ordered| ordered.order.lasts_s(speed))
            .sum();
        if self.player.is_some() {
            say(&format!(
                "{}: sending for {}",
                self.name,
                words::time(seconds)
            ));
        }
    }

    pub fn give(&mut self, orders: &[Ordered]) {
        if let Some(player) = &self.player {
            player.play(orders);
            player.news().into_iter().for_each(|news| self.tell(news));
        }
        if let Some(preview) = &mut self.preview {
            preview.give(orders);
        }
    }

    /// Writes the page as it is now.
    pub fn write_page(&self) -> anyhow::Result<()> {
        let Some(preview) = &self.preview else {
            return Ok(());
        };
        if let Some(path) = &self.page {
            return page_file::write(preview.page(), path);
        }
        let text = render::text::text(preview.page());
        let mut out = std::io::stdout().lock();
        out.write_all(text.as_bytes())
            .and_then(|()| out.flush())
            .context("standard output")
    }

    /// Waits until everything has been played, then writes the page.
    pub fn close(mut self) -> anyhow::Result<Outcome> {
        let unplayed = self.player.take().map_or(0, |player| self.wait(player));
        self.write_page()?;
        if unplayed > 0 {
            say(&format!("{}: {unplayed} codes were not sent", self.name));
            return Ok(Outcome::Failed);
        }
        Ok(Outcome::Done)
    }

    /// Waits for the player; gives the number of codes that could not be played.
    fn wait(&self, player: Arc<Player>) -> usize {
        player.end();
        while !player.has_ended() {
            std::thread::sleep(LOOK);
            player.news().into_iter().for_each(|news| self.tell(news));
        }
        // Whoever stops us at this moment finds nothing left to stop.
        let Some(player) = Arc::into_inner(player) else {
            return 0;
        };
        let (left, news) = player.finish();
        news.into_iter().for_each(|news| self.tell(news));
        left.iter()
            .filter(|ordered| matches!(ordered.order, Order::Send(_)))
            .count()
    }

    fn tell(&self, news: News) {
        let name = &self.name;
        say(&match news {
            News::Lost(error) => format!("{name}: {error}"),
            News::Back => format!("{name}: back; going on with the character that was broken off"),
            News::Ended(error) => format!("markhold: {name}: {error}"),
            News::NotRecorded(error) => format!("{name}: the record cannot be written: {error}"),
        });
    }
}

fn player(name: &str, setup: &Setup, outfit: &Outfit) -> anyhow::Result<Arc<Player>> {
    let way = setup.way().context("a way")?;
    let record = outfit.record.as_ref().map(|folder| {
        PaperRecord::new(folder, &setup.machine).with_context(|| folder.display().to_string())
    });
    let patience = Patience {
        retry: RETRY,
        run_up_s: setup.machine.run_up_s,
    };
    let player = Player::start(move || way.open(), record.transpose()?, patience);
    let player = Arc::new(player.with_context(|| name.to_string())?);
    say(CAUTION);
    stop_when_told(name, &player, setup.machine.motor)?;
    Ok(player)
}

/// Told to stop, the line goes to mark within a character, and the motor off.
fn stop_when_told(name: &str, player: &Arc<Player>, motor: bool) -> anyhow::Result<()> {
    let (name, player): (String, Weak<Player>) = (name.into(), Arc::downgrade(player));
    let stop = move || {
        if let Some(player) = player.upgrade() {
            say(&format!("{name}: {}", stop(&player, motor)));
        }
    };
    stopping::on_stop(stop).context("signals that stop the program")
}

/// Stops a player; what came of it in words.
fn stop(player: &Player, motor: bool) -> String {
    let off = [Ordered {
        order: Order::Motor(false),
        source: None,
    }];
    let dropped = player.stop(if motor { &off } else { &[] });
    let asked = Instant::now();
    while !player.has_ended() && asked.elapsed() < LEAVE {
        std::thread::sleep(LOOK);
    }
    let how = match player.has_ended() {
        true => "the line is in mark",
        false => "the way did not answer",
    };
    format!("stopped; {dropped} orders were not played; {how}")
}
