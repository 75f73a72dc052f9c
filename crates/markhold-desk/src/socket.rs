//! One browser: what it is told, and what it asks.

use crate::desk::Desk;
use crate::door::Pass;
use crate::hearing;
use crate::pictures::Pictures;
use crate::say::{Ask, Opening, Say, View as Of, on_the_air};
use crate::view::View;
use axum::extract::ws::{Message, WebSocket};
use markhold_station::answering::Hand;
use markhold_station::{Delivery, Ear, Report, Station, Subscription, Wish, WishError, room_of};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::broadcast::{self, error::RecvError};
use tokio::time::{Instant, Interval, MissedTickBehavior, interval, timeout};

/// Least time between two messages of pictures: 25 a second at most.
const PICTURES_EVERY: Duration = Duration::from_millis(38);
/// A browser that takes nothing for so long is gone.
const PATIENCE: Duration = Duration::from_secs(20);
/// How often a browser is asked whether it is there, and whether it may still be.
const BEAT: Duration = Duration::from_secs(15);
/// A browser that says nothing for so long is gone: three beats, since a phone may sleep
/// through one.
const SILENCE: Duration = Duration::from_secs(46);

/// How often the desk says that it is alive. The page believes it gone after three.
const ALIVE: Duration = Duration::from_secs(1);

/// How long a stretch of copy the page's strip of certainty shows, s; older characters stand on
/// the sheet, which is told by itself.
const STRIP_S: f64 = 600.0;

/// The browser is gone, or nothing more comes.
struct Over;

/// What changes on the sheet, as JSON.
type Changes = broadcast::Receiver<Arc<str>>;

struct Session {
    desk: Arc<Desk>,
    /// The room that this browser is in.
    view: Arc<View>,
    /// It has just gone there: everything is said anew.
    has_entered: bool,
    socket: WebSocket,
    pass: Pass,
    hand: Page,
    /// The sound, for who wants to hear it: nobody does at first.
    ear: Option<Ear>,
    pictures: Pictures,
    pictured: Instant,
    /// When the browser last said anything.
    heard: Instant,
    alive: Interval,
    /// Up to where sound was taken in when that was looked at, live time, s, and since when it
    /// has been there.
    sound: (f64, Instant),
}

/// One page, whose transmitter is off when it is gone.
struct Page {
    hand: Hand,
    station: Station,
}

impl Drop for Page {
    fn drop(&mut self) {
        let (station, hand) = (self.station.clone(), self.hand);
        // An unkeying may take a moment, and nobody else waits for it.
        std::thread::spawn(move || station.leave(hand));
    }
}

/// Serves one browser, which came in by this right, until it goes away or has to.
pub async fn session(desk: Arc<Desk>, socket: WebSocket, pass: Pass) {
    let mut alive = interval(ALIVE);
    alive.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let mut session = Session {
        alive,
        view: desk.first(),
        has_entered: false,
        sound: (f64::NAN, Instant::now()),
        hand: Page {
            hand: Hand::new(),
            station: desk.station.clone(),
        },
        desk,
        socket,
        pass,
        ear: None,
        pictures: Pictures::default(),
        pictured: Instant::now(),
        heard: Instant::now(),
    };
    // Either end may close; there is nobody left to tell.
    let _ = session.run().await;
}

impl Session {
    async fn run(&mut self) -> Result<(), Over> {
        let (mut reports, mut sheet) = self.begin().await?;
        let mut drift = self.view.drift();
        drift.mark_changed();
        let mut forgotten = self.desk.door.forgotten();
        let mut beat = interval(BEAT);
        beat.set_missed_tick_behavior(MissedTickBehavior::Delay);
        loop {
            if std::mem::take(&mut self.has_entered) {
                (reports, sheet) = self.begin().await?;
                drift = self.view.drift();
                drift.mark_changed();
            }
            tokio::select! {
                _ = beat.tick() => self.beat().await?,
                _ = forgotten.changed() => self.may_stay()?,
                delivery = reports.next() => match delivery.ok_or(Over)? {
                    Delivery::Report(report) if !matches!(*report, Report::Room(_)) => {
                        self.report(&report).await?;
                    }
                    _ => (reports, sheet) = self.begin().await?,
                },
                changed = sheet.recv() => match changed {
                    Ok(json) => self.send(Message::Text(json.as_ref().into())).await?,
                    Err(RecvError::Lagged(_)) => sheet = self.sheet().await?,
                    Err(RecvError::Closed) => return Err(Over),
                },
                changed = drift.changed() => {
                    changed.map_err(|_| Over)?;
                    let drifted = Arc::clone(&drift.borrow_and_update());
                    self.say(Say::Drift(&drifted)).await?;
                }
                block = hearing::next(&mut self.ear) => {
                    let bytes = hearing::sound(&block);
                    self.send(Message::Binary(bytes.into())).await?;
                }
                _ = self.alive.tick() => self.say_alive().await?,
                message = self.socket.recv() => {
                    let message = message.ok_or(Over)?.map_err(|_| Over)?;
                    self.heard = Instant::now();
                    self.hear(message).await?;
                }
            }
        }
    }

    /// Asks whether the browser is still there; it answers by itself.
    async fn beat(&mut self) -> Result<(), Over> {
        self.may_stay()?;
        if self.heard.elapsed() > SILENCE {
            return Err(Over);
        }
        self.send(Message::Ping(Vec::new().into())).await
    }

    /// A key may have been forgotten, or too old.
    fn may_stay(&self) -> Result<(), Over> {
        let may = self.desk.door.still(&self.pass);
        may.then_some(()).ok_or(Over)
    }

    /// Says everything so far; what comes afterwards is in the subscription.
    async fn begin(&mut self) -> Result<(Subscription, Changes), Over> {
        let (mut snapshot, reports) = self.view.station.join_latest(STRIP_S);
        let rows = std::mem::take(&mut snapshot.rows);
        if self.ear.is_some() {
            self.ear = Some(self.view.station.ear());
        }
        self.pictures = Pictures::after(rows, snapshot.instruments.clone());
        self.say(Say::Snapshot(&Opening::of(&mut snapshot))).await?;
        self.say(Say::Shared(self.desk.door.is_shared())).await?;
        let sheet = self.sheet().await?;
        self.inputs().await?;
        self.machines().await?;
        self.say(Say::Stations(on_the_air())).await?;
        self.say(Say::Practice(snapshot.practice)).await?;
        self.say(Say::Printing(&snapshot.paper)).await?;
        self.say(Say::Hand(self.hand.hand)).await?;
        let station = self.view.station.clone();
        let answering = self.meanwhile(move || station.answering()).await?;
        self.say(Say::Answering(&answering.unwrap_or_default()))
            .await?;
        self.paint().await?;
        Ok((reports, sheet))
    }

    /// Says the latest of the sheet; what changes afterwards is in the queue.
    async fn sheet(&mut self) -> Result<Changes, Over> {
        let (whole, changes) = self.view.sheets.join();
        self.send(Message::Text(whole.as_ref().into())).await?;
        Ok(changes)
    }

    async fn report(&mut self, report: &Report) -> Result<(), Over> {
        let instruments = match report {
            Report::Instruments(instruments) => instruments,
            Report::Paper(state) => return self.say(Say::Printing(state)).await,
            Report::Practice(stands) => return self.say(Say::Practice(*stands)).await,
            Report::Answer(state) => return self.say(Say::Answering(state)).await,
            Report::Chosen(_) => return self.inputs().await,
            _ => return self.say(Say::Report(report)).await,
        };
        self.pictures.add(instruments);
        if self.pictured.elapsed() < PICTURES_EVERY {
            return Ok(());
        }
        self.paint().await
    }

    async fn paint(&mut self) -> Result<(), Over> {
        self.pictured = Instant::now();
        match self.pictures.message() {
            Some(bytes) => self.send(Message::Binary(bytes.into())).await,
            None => Ok(()),
        }
    }

    async fn inputs(&mut self) -> Result<(), Over> {
        let desk = Arc::clone(&self.desk);
        let all = self.meanwhile(move || desk.station.inputs()).await?;
        let (now, kept) = self
            .view
            .station
            .look(|sum| (sum.input.clone(), sum.kept.clone()));
        let all = all.unwrap_or_default();
        self.say(Say::Inputs { all, now, kept }).await
    }

    async fn machines(&mut self) -> Result<(), Over> {
        let desk = Arc::clone(&self.desk);
        let listing = self.meanwhile(move || desk.station.machines()).await?;
        self.say(Say::Machines(listing.unwrap_or_default())).await
    }

    async fn hear(&mut self, message: Message) -> Result<(), Over> {
        let text = match message {
            Message::Text(text) => text,
            Message::Close(_) => return Err(Over),
            _ => return Ok(()),
        };
        match Ask::of(&text) {
            Ok(Ask::View(Of::Painted(number))) => {
                self.pictures.painted(number);
                Ok(())
            }
            Ok(Ask::View(Of::Inputs)) => self.inputs().await,
            Ok(Ask::View(Of::Sound(wanted))) => {
                self.ear = wanted.then(|| self.view.station.ear());
                Ok(())
            }
            Ok(Ask::View(Of::Machines)) => self.machines().await,
            Ok(Ask::View(Of::ForgetKeys)) => {
                let count = self.desk.door.forget_keys();
                self.say(Say::Forgotten(count)).await
            }
            Ok(Ask::View(Of::Above(place))) => {
                let above = self.view.sheets.above(place);
                self.say(Say::Above(&above)).await
            }
            Ok(Ask::View(Of::Sheet { columns, overprint })) => {
                match self.view.sheets.set_layout(columns, overprint) {
                    Ok(()) => Ok(()),
                    Err(why) => self.say(Say::Cannot(why)).await,
                }
            }
            Ok(Ask::Wish(Wish::Listen(id))) if room_of(&id) != self.view.station.room() => {
                self.enter(id).await
            }
            Ok(Ask::Wish(wish)) => self.grant(wish).await,
            Err(why) => self.say(Say::Cannot(why)).await,
        }
    }

    /// Does what may take a moment, and says so if it cannot be done.
    async fn grant(&mut self, wish: Wish) -> Result<(), Over> {
        let (view, hand) = (Arc::clone(&self.view), self.hand.hand);
        let done = self
            .meanwhile(move || match &wish {
                Wish::Answer(answer) => view.station.answer(hand, answer),
                other => view.station.wish(other),
            })
            .await?;
        self.granted(done).await
    }

    /// Goes to the room in which this input is heard; other browsers stay where they are.
    async fn enter(&mut self, id: String) -> Result<(), Over> {
        let desk = Arc::clone(&self.desk);
        let entered = self.meanwhile(move || desk.enter(&id)).await?;
        let done = entered.map(|entered| {
            entered.map(|view| {
                // What is armed in the room that is left would go on unseen.
                self.hand = Page {
                    hand: Hand::new(),
                    station: self.desk.station.clone(),
                };
                self.view = view;
                self.has_entered = true;
            })
        });
        self.granted(done).await
    }

    /// Says what cannot be.
    async fn granted(&mut self, done: Option<Result<(), WishError>>) -> Result<(), Over> {
        match done {
            Some(Err(why)) => self.say(Say::Cannot(why.to_string())).await,
            None => {
                let why = "that went wrong; try again".into();
                self.say(Say::Cannot(why)).await
            }
            Some(Ok(())) => Ok(()),
        }
    }

    /// Does what may take a moment and goes on saying that the desk is alive; `None` if it went
    /// wrong.
    async fn meanwhile<T: Send + 'static>(
        &mut self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<Option<T>, Over> {
        let mut work = tokio::task::spawn_blocking(work);
        loop {
            tokio::select! {
                done = &mut work => return Ok(done.ok()),
                _ = self.alive.tick() => self.say_alive().await?,
            }
        }
    }

    async fn say_alive(&mut self) -> Result<(), Over> {
        let until_s = self.view.station.look(|sum| sum.until_s);
        if until_s != self.sound.0 {
            self.sound = (until_s, Instant::now());
        }
        let still_s = self.sound.1.elapsed().as_secs_f64();
        self.say(Say::Beat { still_s }).await
    }

    async fn say(&mut self, say: Say<'_>) -> Result<(), Over> {
        let text = say.json();
        self.send(Message::Text(text.into())).await
    }

    async fn send(&mut self, message: Message) -> Result<(), Over> {
        let sent = timeout(PATIENCE, self.socket.send(message)).await;
        sent.map_err(|_| Over)?.map_err(|_| Over)
    }
}
