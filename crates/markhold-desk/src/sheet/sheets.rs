//! The sheet of a desk, kept up by a thread of its own.

use super::{Dials, Gap, Layout, PieceRows, Place, Sheet, Under, on_screen};
use markhold_code::FiguresRow;
use markhold_event::{Character, Event};
use markhold_page::Machine;
use markhold_station::practice::Turned;
use markhold_station::report::{InputReport, PaperState, Room};
use markhold_station::{Delivery, Report, Station, Subscription};
use serde::Serialize;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError, Weak};
use tokio::sync::broadcast;

/// Changes that wait for a slow browser: some seconds of copy. One that misses some gets the
/// sheet anew.
const WAITING: usize = 256;

/// Bytes of the sheet that a page is told at once, as JSON: some screens full. What stands above it asks for,
/// one after the other.
pub const AT_ONCE: usize = 400_000;

/// What changed on the sheet, or the latest of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Changed {
    /// How all of it is laid out, when this is not what changed: the page begins anew.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub layout: Option<Layout>,
    /// Rows that are new or other than before.
    pub pieces: Vec<PieceRows>,
    /// Where the carriage is.
    pub under: Under,
    /// Above which place more of it stands that was not told.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub above: Option<Place>,
}

/// What stands above a place of the sheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Above {
    /// The place.
    pub below: Place,
    /// Rows in order, the last of them right above it.
    pub pieces: Vec<PieceRows>,
    /// Above which place there is more.
    pub above: Option<Place>,
}

/// The sheet of a desk.
pub struct Sheets(Arc<Shared>);

struct Shared {
    station: Station,
    inner: Mutex<Inner>,
}

struct Inner {
    /// The machine as it is chosen, and its name if it has one.
    machine: Machine,
    name: Option<String>,
    figures: FiguresRow,
    /// The machine printed on, if any.
    printed_on: Option<Arc<Machine>>,
    sheet: Sheet,
    /// The room that is shown, up to where its sound is taken in, s, and where its dial stood.
    room: Room,
    until_s: f64,
    dials: Dials,
    json: fn(&Changed) -> String,
    /// As JSON, made once for all browsers.
    changed: broadcast::Sender<Arc<str>>,
}

impl Sheets {
    /// Lays out what is copied for this machine, with its name if it has one; `json` says what
    /// changed as browsers are told it.
    pub fn start(
        station: Station,
        (machine, name): (Machine, Option<String>),
        json: fn(&Changed) -> String,
    ) -> Self {
        let (snapshot, reports) = station.join();
        let figures = snapshot.in_use.figures_row.unwrap_or_default();
        let inner = Inner {
            sheet: Sheet::new(on_screen(&machine, figures)),
            room: snapshot.room,
            until_s: 0.0,
            dials: Dials::default(),
            json,
            machine,
            name,
            figures,
            printed_on: None,
            changed: broadcast::Sender::new(WAITING),
        };
        let shared = Arc::new(Shared {
            station,
            inner: Mutex::new(inner),
        });
        shared.begin_anew();
        let weak = Arc::downgrade(&shared);
        std::thread::Builder::new()
            .name("sheet".into())
            .spawn(move || follow(&weak, reports))
            .expect("the system gives a thread");
        Self(shared)
    }

    /// Lays everything out anew for another machine.
    pub fn set_machine(&self, machine: &Machine, name: Option<String>) {
        {
            let mut inner = self.0.inner();
            inner.machine = machine.clone();
            inner.name = name;
        }
        self.0.begin_anew();
    }

    /// Lays everything out anew with another line length, or with lines printed over.
    ///
    /// # Errors
    ///
    /// A line that no machine has, in words.
    pub fn set_layout(&self, columns: u16, overprint: bool) -> Result<(), String> {
        let machine = {
            let inner = self.0.inner();
            let same = columns == inner.machine.columns;
            Machine {
                columns,
                margin_lamp: match inner.machine.margin_lamp {
                    lamp if same => lamp,
                    0 => 0,
                    // As far from the margin as before.
                    lamp => columns.saturating_sub(inner.machine.columns - lamp),
                },
                overprint,
                ..inner.machine.clone()
            }
        };
        machine.check().map_err(|error| error.to_string())?;
        self.set_machine(&machine, None);
        Ok(())
    }

    /// The latest of the sheet, as JSON, and every change from there on.
    pub fn join(&self) -> (Arc<str>, broadcast::Receiver<Arc<str>>) {
        let inner = self.0.inner();
        (inner.latest(), inner.changed.subscribe())
    }

    /// What stands above a place.
    pub fn above(&self, below: Place) -> Above {
        let (pieces, above) = self.0.inner().sheet.latest(Some(below), AT_ONCE);
        Above {
            below,
            pieces,
            above,
        }
    }
}

/// Types what is told until there is no more of it or nobody wants it.
fn follow(weak: &Weak<Shared>, mut reports: Subscription) {
    while let Some(first) = reports.wait() {
        let Some(shared) = weak.upgrade() else { return };
        let mut next = Some(first);
        while let Some(delivery) = next {
            match delivery {
                Delivery::Report(report) if !matches!(*report, Report::Room(_)) => {
                    shared.take(&report);
                }
                _ => {
                    reports = shared.station.reports();
                    shared.begin_anew();
                }
            }
            next = reports.poll();
        }
        shared.inner().tell();
    }
}

impl Shared {
    fn inner(&self) -> MutexGuard<'_, Inner> {
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn take(&self, report: &Report) {
        match report {
            Report::Event(event) => self.inner().take(event),
            Report::Sent(line) => self.inner().sheet.sent(line),
            Report::Settings(in_use) => self.inner().force_figures(in_use.figures_row),
            Report::Instruments(shown) => self.inner().until_s = shown.until_s,
            Report::Practice(stands) => self.inner().turned(stands),
            Report::Paper(state) => self.printed_on(state),
            Report::Input(told) => self.inner().gap(told),
            _ => {}
        }
    }

    /// Another machine is printed on: everything is laid out as it prints.
    fn printed_on(&self, state: &PaperState) {
        let mut inner = self.inner();
        let machine = state.layout.clone().filter(|_| state.runs);
        if machine == inner.printed_on {
            return;
        }
        inner.printed_on.clone_from(&machine);
        if let Some(machine) = machine {
            inner.machine = Machine::clone(&machine);
            inner.name.clone_from(&state.machine);
            drop(inner);
            self.begin_anew();
        }
    }

    /// Types everything so far on fresh paper. What comes twice, here and as a report that is
    /// under way, is typed once.
    fn begin_anew(&self) {
        let (snapshot, _) = self.station.join();
        let mut inner = self.inner();
        inner.figures = snapshot.in_use.figures_row.unwrap_or(inner.figures);
        inner.sheet = Sheet::new(on_screen(&inner.machine, inner.figures));
        if snapshot.room != inner.room {
            (inner.room, inner.dials) = (snapshot.room, Dials::default());
        }
        inner.until_s = snapshot.until_s;
        inner.turned(&snapshot.practice);
        snapshot.inputs.iter().for_each(|told| inner.gap(told));
        let followed = snapshot.followed.iter().map(|f| &f.signal);
        let mut signals: Vec<_> = snapshot.ended.iter().chain(followed).collect();
        signals.sort_by(|a, b| a.begin_s.total_cmp(&b.begin_s));
        signals.iter().for_each(|signal| inner.sheet.know(signal));
        let mut sent = snapshot.sent.iter().peekable();
        let mut ended: Vec<_> = snapshot.ended.iter().collect();
        ended.sort_by(|a, b| a.until_s.total_cmp(&b.until_s));
        let mut ended = ended.into_iter().cloned().peekable();
        for character in snapshot.sheet {
            while let Some(signal) = ended.next_if(|signal| signal.until_s < character.start_s) {
                inner.sheet.take(&Event::Ended(signal));
            }
            while let Some(line) = sent.next_if(|line| line.at_s <= character.start_s) {
                inner.sheet.sent(line);
            }
            inner.take(&Event::Character(character));
        }
        sent.for_each(|line| inner.sheet.sent(line));
        for character in snapshot.early {
            inner.sheet.take(&Event::Early(character));
        }
        for signal in ended {
            inner.sheet.take(&Event::Ended(signal));
        }
        inner.sheet.changes();
        // Nobody listening is no error.
        let latest = inner.latest();
        let _ = inner.changed.send(latest);
    }
}

impl Inner {
    fn force_figures(&mut self, figures: Option<FiguresRow>) {
        if let Some(figures) = figures {
            self.set_figures(figures);
        }
    }

    fn gap(&mut self, told: &InputReport) {
        if let Some(gap) = Gap::of(told) {
            self.sheet.gap(gap);
        }
    }

    /// Where the dial stands is known in practice only.
    fn turned(&mut self, stands: &Turned) {
        if self.room == Room::Practice {
            self.dials.turned(stands, self.until_s);
        }
        self.sheet.set_dials(&self.dials);
    }

    /// Types what was heard, in the sender's figures row as far as the character shows it.
    fn take(&mut self, event: &Event) {
        if let Event::Character(Character {
            code,
            shift,
            symbol,
            ..
        }) = event
        {
            let rows = [FiguresRow::Ita2, FiguresRow::Us];
            let means = |row: &FiguresRow| markhold_code::symbol(*code, *shift, *row) == *symbol;
            if !means(&self.figures) {
                self.force_figures(rows.into_iter().find(means));
            }
        }
        self.sheet.take(event);
    }

    fn set_figures(&mut self, figures: FiguresRow) {
        if figures != self.figures {
            self.figures = figures;
            let machine = on_screen(&self.machine, figures);
            self.sheet.set_machine(&machine);
        }
    }

    fn latest(&self) -> Arc<str> {
        let layout = Layout {
            columns: self.machine.columns,
            margin_lamp: self.machine.margin_lamp,
            overprint: self.machine.overprint,
            machine: self.name.clone(),
        };
        let (pieces, above) = self.sheet.latest(None, AT_ONCE);
        let latest = Changed {
            layout: Some(layout),
            pieces,
            under: self.sheet.under(),
            above,
        };
        (self.json)(&latest).into()
    }

    fn tell(&mut self) {
        let pieces = self.sheet.changes();
        if pieces.is_empty() {
            return;
        }
        let changed = Changed {
            layout: None,
            pieces,
            under: self.sheet.under(),
            above: None,
        };
        // Nobody listening is no error.
        let _ = self.changed.send((self.json)(&changed).into());
    }
}
