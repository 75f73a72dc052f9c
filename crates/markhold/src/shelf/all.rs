//! `markhold shelf again all`: every evening, by several workers.

use super::object::{Object, line};
use super::options::Again;
use crate::outcome::{Outcome, say};
use crate::wanted::Wanted;
use markhold_receive::Settings;
use markhold_shelf::{Shelf, ShelfError, Worked, Worker};
use std::io::stdout;
use std::path::Path;

pub fn run(shelf: &mut Shelf, again: &Again, wanted: &Wanted) -> anyhow::Result<Outcome> {
    let evenings = shelf.evenings(None, None, usize::MAX)?;
    let ended = evenings
        .iter()
        .filter(|e| e.end.is_some() && e.sound_s > 0.0);
    let work: Vec<(i64, Settings)> = ended
        .map(|evening| {
            let settings = Settings {
                language: wanted.language,
                ..super::again::settings(again, evening)
            };
            (evening.id, settings)
        })
        .collect();
    match shelf.enter_work(&work)? {
        0 if work.is_empty() => say("no evening has sound"),
        0 => say("this joins work that was begun before, with the settings of then"),
        n => say(&format!("{n} evenings to copy again")),
    }
    all_of_it(shelf.place(), again.workers.unwrap_or(1))?;
    if again.json {
        let mut out = stdout().lock();
        for (evening, _) in &work {
            line(&mut out, &Object::from(&shelf.evening(*evening)?))?;
        }
    }
    let work = shelf.work()?;
    say(&format!(
        "{} copied again, {} given up",
        work.done, work.given_up
    ));
    Ok(match work.done {
        0 => Outcome::NothingFound,
        _ => Outcome::Done,
    })
}

/// Until nothing is left, also of what other computers have taken.
fn all_of_it(place: &Path, workers: u16) -> Result<(), ShelfError> {
    std::thread::scope(|scope| {
        let begin = |_| scope.spawn(|| Worker::new().work(place, &mut tell));
        let workers: Vec<_> = (0..workers).map(begin).collect();
        let went = workers.into_iter().map(|worker| match worker.join() {
            Ok(went) => went,
            Err(panic) => std::panic::resume_unwind(panic),
        });
        went.collect::<Vec<_>>().into_iter().collect()
    })
}

fn tell(worked: &Worked) {
    match worked {
        Worked::Stored { evening, .. } => say(&format!("evening {evening}: copied again")),
        Worked::Late { evening } => say(&format!("evening {evening}: another was faster")),
        Worked::GivenUp { evening, why } => say(&format!("evening {evening}: given up: {why}")),
    }
}
