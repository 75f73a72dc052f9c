//! One look after the other: clock, skeds and what is heard in, entries and evenings out.

use super::bulletins::Bulletins;
use super::dialling::{DialKnown, Dialling};
use super::joining::Joining;
use super::listening::Listening;
use super::world::{kept, numbered};
use crate::machines::{Machines, NoMachines};
use jiff::{SignedDuration, Timestamp};
use markhold_shelf::{PrintState, Shelf, ShelfError, SkedPrint, io_words};
use markhold_skeds::Sked;
use markhold_skeds::watch::{Heard, Order, Run, RunState, Waits, Watch, World};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Runs due earlier than this before now are not looked at again.
const REMEMBERED: SignedDuration = SignedDuration::from_hours(31 * 24);

/// Looks after the skeds of a shelf.
pub struct Attendant {
    // Configured.
    place: PathBuf,
    waits: Waits,
    tell: Box<dyn FnMut(&str) + Send>,
    // State.
    /// Held while the skeds of the shelf are looked after here.
    ours: Option<File>,
    listening: Listening,
    watch: Option<Watch>,
    /// As they were read last: a shelf that cannot be had for a while stops nothing.
    skeds: BTreeMap<i64, Sked>,
    /// The skeds are these, and none of the shelf's.
    given: bool,
    /// Entries that are not on the shelf yet.
    entries: BTreeMap<(i64, Timestamp), Run>,
    /// Puts together what skeds send.
    joining: Joining,
    /// Learns of the dial.
    dialling: Dialling,
    /// Prints what was kept where that is wanted.
    bulletins: Bulletins,
    /// What was told of the shelf last.
    told: String,
}

impl Attendant {
    /// For the shelf in the folder `place`. What happens is told to `tell`, in words.
    pub fn new(
        place: PathBuf,
        listening: Listening,
        waits: Waits,
        tell: impl FnMut(&str) + Send + 'static,
    ) -> Self {
        Attendant {
            bulletins: Bulletins::new(&place, Arc::new(NoMachines)),
            place,
            waits,
            tell: Box::new(tell),
            ours: None,
            listening,
            watch: None,
            skeds: BTreeMap::new(),
            given: false,
            entries: BTreeMap::new(),
            joining: Joining::default(),
            dialling: Dialling::new(DialKnown::default()),
            told: String::new(),
        }
    }

    /// Looks after these skeds in place of those of the shelf.
    #[must_use]
    pub fn of(mut self, skeds: BTreeMap<i64, Sked>) -> Self {
        (self.skeds, self.given) = (skeds, true);
        self
    }

    /// What skeds tell of this dial is kept.
    #[must_use]
    pub fn learning_of(mut self, dial: DialKnown) -> Self {
        self.dialling = Dialling::new(dial);
        self
    }

    /// Bulletins may be printed on these machines.
    #[must_use]
    pub fn printing_on(mut self, machines: Arc<dyn Machines>) -> Self {
        self.bulletins = Bulletins::new(&self.place, machines);
        self
    }

    /// Who listens.
    pub fn listening(&self) -> &Listening {
        &self.listening
    }

    /// The runs that are open.
    pub fn open(&self) -> Vec<&Run> {
        self.watch.iter().flat_map(Watch::open).collect()
    }

    /// Looks once; `now` is what the computer's clock shows. What cannot be read or kept is tried
    /// again at the next look.
    pub fn look(&mut self, now: Timestamp) {
        let looked = self.try_to_look(now);
        let words = looked
            .err()
            .map_or_else(String::new, |error| error.to_string());
        if words != self.told {
            if !words.is_empty() {
                (self.tell)(&words);
            }
            self.told = words;
        }
    }

    /// Nobody looks any more: an evening that was begun for a sked ends.
    pub fn end(&mut self) {
        // The line is in mark before anything that may take longer.
        self.bulletins.stop();
        self.listening.end();
    }

    fn try_to_look(&mut self, now: Timestamp) -> Result<(), String> {
        let words = |error: ShelfError| error.to_string();
        let shelf = match Shelf::open(&self.place) {
            // Nothing was kept yet, so there are no skeds.
            Err(ShelfError::Nothing { .. }) if self.watch.is_none() => return Ok(()),
            other => other,
        };
        if self.ours.is_none() {
            self.ours = Some(lock(&self.place)?);
        }
        let read = match &shelf {
            Ok(shelf) => self.read(shelf, now),
            Err(_) => Ok(()),
        };
        let known = shelf
            .as_ref()
            .map_or_else(|_| Known::default(), |shelf| self.known(shelf, now));
        self.dialling.ask(now);
        if self.act(now, &known, true) {
            // What keeps an evening from beginning is entered at once; it is tried at the next look.
            self.act(now, &known, false);
        }
        let mut shelf = shelf.map_err(words)?;
        read.and_then(|()| self.keep(&mut shelf, now))
            .map_err(words)
    }

    /// Begins and ends what is due by what was read last. Whether an evening should have begun and
    /// did not.
    fn act(&mut self, now: Timestamp, known: &Known, may_begin: bool) -> bool {
        let Some(watch) = &mut self.watch else {
            return false;
        };
        let mut failed = false;
        let mut world = World {
            earlier: known.earlier.clone(),
            ..self.listening.world()
        };
        numbered(&mut world.signals, &known.now);
        // A sked that cannot be reckoned with is told where skeds are shown.
        let (orders, _) = watch.look(now, &self.skeds, jiff::tz::db(), &world);
        if let Some(evening) = world.evening {
            let heard = (evening, &*world.signals);
            self.dialling.look(now, watch.open(), heard, &self.skeds);
        }
        let held = watch.held();
        self.listening.loosen(held);
        for order in orders {
            match order {
                Order::Begin if !may_begin => {}
                Order::Begin => {
                    self.listening.begin(held);
                    failed = self.listening.station().is_none();
                }
                Order::End => self.listening.end(),
                Order::Entry(run) => self.enter(*run),
            }
        }
        failed
    }

    fn read(&mut self, shelf: &Shelf, now: Timestamp) -> Result<(), ShelfError> {
        if self.watch.is_none() {
            let from = now.saturating_sub(REMEMBERED).unwrap_or(now);
            let runs = shelf.runs(from)?;
            self.watch = Some(Watch::resume(self.waits, runs, shelf.last_watched()?));
        }
        if !self.given {
            self.skeds = shelf.skeds()?;
        }
        self.dialling.read(shelf, now)
    }

    fn known(&self, shelf: &Shelf, at: Timestamp) -> Known {
        let now = self.listening.world().evening;
        let evenings = |watch: &Watch| &watch.evenings() | &watch.unsettled(at);
        let evenings = self.watch.as_ref().map_or_else(BTreeSet::new, evenings);
        let before = evenings.into_iter().filter(|evening| Some(*evening) != now);
        let sideband = self.listening.sideband();
        // One that the shelf has no longer is of no use here.
        let known = |evening| kept(shelf, evening, sideband).ok();
        Known {
            now: now.and_then(known).unwrap_or_default(),
            earlier: before
                .filter_map(|evening| Some((evening, known(evening)?)))
                .collect(),
        }
    }

    fn enter(&mut self, run: Run) {
        match run.state {
            RunState::Missed => (self.tell)(&format!("{} missed: {}", run.title, run.cause)),
            RunState::Kept => {
                (self.tell)(&format!("{} kept", run.title));
                self.joining.is_due();
            }
            RunState::Open => {}
        }
        self.entries.insert((run.sked, run.begins), run);
    }

    /// Entries go to the shelf; when it was looked goes there last, so that what a crash lost is
    /// looked at again.
    fn keep(&mut self, shelf: &mut Shelf, now: Timestamp) -> Result<(), ShelfError> {
        if self.watch.is_none() {
            return Ok(());
        }
        while let Some(entry) = self.entries.first_entry() {
            shelf.keep_run(entry.get())?;
            want_printed(shelf, entry.get(), &self.skeds)?;
            entry.remove();
        }
        self.dialling.keep(shelf)?;
        self.bulletins.look(shelf, now, &mut *self.tell)?;
        self.joining.look(&self.place, now);
        shelf.watched(now)
    }
}

/// A bulletin that was kept goes to paper where its sked wants that, once.
fn want_printed(
    shelf: &mut Shelf,
    run: &Run,
    skeds: &BTreeMap<i64, Sked>,
) -> Result<(), ShelfError> {
    let machine = skeds.get(&run.sked).map_or("", |sked| sked.print_on.trim());
    let is_new = run.state == RunState::Kept && !machine.is_empty();
    if !is_new || shelf.print_of(run.sked, run.begins)?.is_some() {
        return Ok(());
    }
    shelf.keep_print(&SkedPrint {
        sked: run.sked,
        begins: run.begins,
        machine: machine.into(),
        state: PrintState::Waiting,
        why: String::new(),
    })
}

/// What the shelf knows.
#[derive(Default)]
struct Known {
    /// Of the evening that is being kept.
    now: Vec<Heard>,
    /// Of evenings that open runs were in before this one: a crash may have broken them off before
    /// the last of it was entered, and more is found when they are copied again.
    earlier: Vec<(i64, Vec<Heard>)>,
}

/// Skeds of one shelf are looked after once: two who did would begin each evening twice. The
/// system lets go of the lock when who has it ends in whatever way.
fn lock(place: &Path) -> Result<File, String> {
    let path = place.join("skeds.lock");
    let named = |error| format!("{}: {}", path.display(), io_words(&error));
    let file = File::options().create(true).append(true).open(&path);
    let file = file.map_err(named)?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => {
            Err("another markhold looks after the skeds of this shelf".into())
        }
        Err(TryLockError::Error(error)) => Err(named(error)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::inputs::{InputChoice, Inputs};
    use crate::options::{Shelved, StationOptions};
    use crate::station::Station;
    use markhold_shelf::KeepSettings;
    use markhold_skeds::When;
    use markhold_sound::{Source, Taken};
    use std::sync::Mutex;

    /// A receiver that gives no sound yet.
    struct Silent;

    impl Inputs for Silent {
        fn list(&self) -> Vec<InputChoice> {
            Vec::new()
        }

        fn open(&self, _: &str) -> Result<Box<dyn Source>, String> {
            Ok(Box::new(Silent))
        }
    }

    impl Source for Silent {
        fn name(&self) -> String {
            "silent".into()
        }

        fn rate(&self) -> u32 {
            8000
        }

        fn is_live(&self) -> bool {
            true
        }

        fn take(&mut self, _: &mut Vec<f32>) -> Taken {
            std::thread::sleep(std::time::Duration::from_millis(1));
            Taken::Nothing
        }
    }

    fn at(s: i64) -> Timestamp {
        Timestamp::from_second(1_793_577_600 + s).unwrap()
    }

    /// A shelf with one sked of ten minutes, due after an hour.
    fn with_a_sked(place: &Path) {
        let sked = Sked {
            station: "Q1LMC".into(),
            name: "News".into(),
            sends: String::new(),
            channels: vec![],
            shift_hz: None,
            rate_baud: None,
            mark: None,
            when: When {
                zone: "UTC".into(),
                first: jiff::tz::TimeZone::UTC.to_datetime(at(3600)),
                rules: vec![],
                except: vec![],
                also: vec![],
            },
            length_min: 10.0,
            place: String::new(),
            notes: String::new(),
            print_on: String::new(),
        };
        Shelf::make(place).unwrap().add_sked(&sked).unwrap();
    }

    fn station(place: &Path) -> Result<Station, String> {
        let options = StationOptions {
            shelf: Some(Shelved {
                place: place.into(),
                keep: KeepSettings::default(),
                words: "the shelf".into(),
                practice: false,
            }),
            inputs: Arc::new(Silent),
            ..StationOptions::default()
        };
        Station::start(options, "silent").map_err(|error| error.to_string())
    }

    fn runs(place: &Path) -> Vec<Run> {
        Shelf::open(place).unwrap().runs(Timestamp::MIN).unwrap()
    }

    /// Looks every 20 s in these seconds.
    fn look(attendant: &mut Attendant, (from, until): (i64, i64)) {
        (from..until)
            .step_by(20)
            .for_each(|now| attendant.look(at(now)));
    }

    /// In use until some minutes after it was due; then it begins all the same.
    #[test]
    fn an_input_in_use_is_told_and_tried_again() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("shelf");
        with_a_sked(&place);
        let tries = Arc::new(Mutex::new(0));
        let (counted, shelf) = (tries.clone(), place.clone());
        let open = Box::new(move || {
            let mut tries = counted.lock().unwrap();
            *tries += 1;
            match *tries {
                ..=19 => Err("the sound device is in use by another program".to_string()),
                _ => station(&shelf),
            }
        });
        let listening = Listening::when_due(open);
        let mut attendant = Attendant::new(place.clone(), listening, Waits::default(), |_| {});
        look(&mut attendant, (3000, 3600 - 300));
        assert_eq!(*tries.lock().unwrap(), 0, "nothing is due yet");
        // Fourteen looks before it is due, five after it.
        look(&mut attendant, (3600 - 300, 3600 + 100));
        assert_eq!(*tries.lock().unwrap(), 19, "at each look");
        let [run] = &runs(&place)[..] else {
            panic!("{:?}", runs(&place));
        };
        assert!(
            run.state == RunState::Open && run.cause.contains("in use"),
            "{run:?}"
        );
        look(&mut attendant, (3600 + 100, 3600 + 200));
        assert!(attendant.listening().station().is_some());
        // Nothing is sent. The entry says what kept it from being heard.
        look(&mut attendant, (3600 + 200, 3600 + 1600));
        let run = runs(&place).remove(0);
        assert!(
            run.state == RunState::Missed && run.cause.contains("in use"),
            "{run:?}"
        );
        assert!(attendant.listening().station().is_none(), "and it ends");
    }

    /// Who begins while another looks after the shelf says so, and takes over when that ends.
    #[test]
    fn skeds_of_one_shelf_are_looked_after_once() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("shelf");
        with_a_sked(&place);
        let none = || Listening::when_due(Box::new(|| Err("no input".into())));
        let told = Arc::new(Mutex::new(Vec::new()));
        let heard = told.clone();
        let tell = move |words: &str| heard.lock().unwrap().push(words.to_string());
        let mut first = Attendant::new(place.clone(), none(), Waits::default(), |_| {});
        let mut second = Attendant::new(place.clone(), none(), Waits::default(), tell);
        first.look(at(3000));
        second.look(at(3010));
        let said = told.lock().unwrap().join("; ");
        assert!(said.contains("another markhold"), "{said}");
        drop(first);
        look(&mut second, (3300, 3600 + 1600));
        assert_eq!(runs(&place).len(), 1);
    }
}
