//! One bulletin on paper: what was kept of a run, as orders under its name, played to the end.

use crate::machines::Machines;
use crate::paper::{Feed, MOTOR_OFF, await_end, folder, leave};
use markhold_code::{FiguresRow, Symbol, lookup};
use markhold_event::{Character, Event};
use markhold_page::Ordered;
use markhold_shelf::{Shelf, ShelfError};
use markhold_skeds::watch::Run;
use markhold_wire::play::{News, PaperRecord, Patience, Player, Setup};
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

/// Between two looks at the player, and two attempts to open a way that is away.
const LOOK: Duration = Duration::from_millis(50);
const RETRY: Duration = Duration::from_secs(2);

/// What the thread tells and is told.
#[derive(Default)]
pub(super) struct Shared {
    pub(super) stop: AtomicBool,
    /// What it waits for; empty while it prints.
    why: Mutex<String>,
    /// How it ended.
    pub(super) end: Mutex<Option<Result<(), String>>>,
}

impl Shared {
    fn wait_for(&self, why: String) {
        *self.why.lock().unwrap_or_else(PoisonError::into_inner) = why;
    }

    pub(super) fn why(&self) -> String {
        self.why
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }
}

/// Prints one run to its end. Why it cannot, in words.
pub(super) fn printed(
    shared: &Shared,
    (place, run): (&Path, &Run),
    (machines, machine): (&dyn Machines, &str),
) -> Result<(), String> {
    let setup = machines.setup(machine, None)?;
    let open = setup.opener();
    let open = open.ok_or("there is no way to it; give one in the settings file")?;
    let orders = {
        let shelf = Shelf::open(place).map_err(|error| error.to_string())?;
        orders(&shelf, run, &setup)?
    };
    let record = PaperRecord::new(place.join("paper").join(folder(machine)), &setup.machine);
    let patience = Patience {
        retry: RETRY,
        run_up_s: setup.machine.run_up_s,
    };
    let player = Player::attend(open, record.ok(), patience);
    player.play(&orders);
    player.end();
    while !player.has_ended() {
        std::thread::sleep(LOOK);
        player.news().into_iter().for_each(|news| match news {
            News::Lost(error) | News::Ended(error) => shared.wait_for(error.to_string()),
            News::Back => shared.wait_for(String::new()),
            // The copy itself is on the shelf.
            News::NotRecorded(_) => {}
        });
        if shared.stop.load(Ordering::SeqCst) {
            player.stop(match setup.machine.motor {
                true => &[MOTOR_OFF],
                false => &[],
            });
            await_end(&player);
            leave(player);
            return Err("stopped".into());
        }
    }
    let (left, news) = player.finish();
    let ended = news.into_iter().find_map(|news| match news {
        News::Ended(error) | News::Lost(error) => Some(error.to_string()),
        _ => None,
    });
    match left.is_empty() {
        true => Ok(()),
        false => Err(ended.unwrap_or_else(|| shared.why())),
    }
}

/// What this machine must be sent for the bulletin under its name.
fn orders(shelf: &Shelf, run: &Run, setup: &Setup) -> Result<Vec<Ordered>, String> {
    let words = |error: ShelfError| error.to_string();
    let mut feed = Feed::new(setup).map_err(|error| error.to_string())?;
    let mut orders = Vec::new();
    feed.sent(&heading(run, setup.machine.figures), 0.0, &mut orders);
    for (evening, signals) in &run.kept_in {
        let about = shelf.evening(*evening).map_err(words)?;
        let Some(reading) = about.best_reading() else {
            continue;
        };
        let mut lines = Vec::new();
        shelf
            .lines(reading.id, &mut |line| lines.push(line))
            .map_err(words)?;
        for signal in signals {
            for line in lines.iter().filter(|line| line.signal == *signal) {
                for character in line.characters().map_err(words)? {
                    take(&mut feed, &character, &mut orders);
                }
            }
        }
        // Names of signals begin anew with the next evening.
        feed.end_sound();
    }
    feed.finish(&mut orders);
    Ok(orders)
}

fn take(feed: &mut Feed, character: &Character, orders: &mut Vec<Ordered>) {
    // What is on paper stays: it holds what was heard, and no guess of language.
    let heard = Event::Character(character.by_signal());
    feed.event(&heard, false, character.start_s, orders);
}

/// Name and time, in what this row of figures has.
fn heading(run: &Run, row: FiguresRow) -> String {
    let due = run.begins.strftime("%d %b %Y %H%M UTC").to_string();
    let words = format!("{} {due}", run.title).to_uppercase();
    let there = |c: char| match c {
        ' ' => ' ',
        c if lookup(Symbol::Print(c), row).is_some() => c,
        _ => ' ',
    };
    words.chars().map(there).collect()
}
