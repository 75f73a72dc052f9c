//! Where orders go: to the machine, onto a page, or both.

use super::Outfit;
use super::page_file;
use super::preview::Preview;
use crate::outcome::{Outcome, say};
use crate::words;
use anyhow::{Context, bail};
use markhold_page::{Machine, Order, Ordered, render};
use markhold_wire::play::{News, PaperRecord, Patience, Player, Setup};
use std::io::Write;
use std::path::PathBuf;
use std::sync::{Arc, Weak};
use std::time::Duration;

/// Between two looks at the player, and two attempts to open a way that was lost.
const LOOK: Duration = Duration::from_millis(50);
const RETRY: Duration = Duration::from_secs(1);

/// Exit code of a program stopped from the keyboard (128 + signal 2, common practice).
const STOPPED: i32 = 130;

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
        // Whoever stops us from the keyboard at this moment finds nothing left to stop.
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
    stop_from_the_keyboard(&player, setup.machine.motor)?;
    Ok(player)
}

/// Stopped from the keyboard, the line goes to mark within a character, and the motor off.
fn stop_from_the_keyboard(player: &Arc<Player>, motor: bool) -> anyhow::Result<()> {
    let player: Weak<Player> = Arc::downgrade(player);
    ctrlc::set_handler(move || {
        if let Some(player) = player.upgrade() {
            let dropped = player.cancel();
            if motor {
                player.play(&[Ordered {
                    order: Order::Motor(false),
                    source: None,
                }]);
            }
            player.end();
            while !player.has_ended() {
                std::thread::sleep(LOOK);
            }
            say(&format!(
                "stopped; {dropped} orders were not played; the line is in mark"
            ));
        }
        std::process::exit(STOPPED);
    })
    .context("stopping from the keyboard")
}
