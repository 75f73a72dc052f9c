//! How many may stand in the door at a time.
//!
//! Who connects and asks for nothing costs a descriptor and some memory; enough of them would
//! lock out the owner. So connections are counted: those of this machine for themselves,
//! those from outside together and for each address. Where all places are taken, the newcomer
//! gets that of the one who has stood there longest without asking for anything: whoever asks
//! at once gets in, however many others stand in the door.

use super::codes::network;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Instant;
use tokio::sync::Notify;

/// Most connections of this machine. A browser opens six for a page at most.
pub const MOST_HERE: usize = 64;
/// Most connections from outside.
pub const MOST_OUTSIDE: usize = 64;
/// Most connections of one address outside: two browsers of one household.
pub const MOST_OF_ONE: usize = 16;
/// Most open pages of this machine, and as many from outside.
pub const MOST_PAGES: usize = 16;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Side {
    Here,
    Outside(IpAddr),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Stage {
    /// Has not asked yet, or not again.
    Waiting,
    /// Waits for an answer.
    Asking,
    /// Has the page's socket.
    Page,
}

#[derive(Debug)]
struct Entry {
    number: u64,
    side: Side,
    stage: Stage,
    since: Instant,
    leave: Arc<Notify>,
}

#[derive(Debug, Default)]
struct Entries {
    next: u64,
    all: Vec<Entry>,
}

/// Everybody who stands in the door. Clones are the same one.
#[derive(Clone, Debug, Default)]
pub struct Gate(Arc<Mutex<Entries>>);

/// One place in the door, as long as it is held.
#[derive(Debug)]
pub struct Place {
    gate: Gate,
    number: u64,
    leave: Arc<Notify>,
}

impl Gate {
    /// A place for somebody from there, perhaps that of another who is told to leave; `None`
    /// if there is none.
    pub fn admit(&self, peer: IpAddr) -> Option<Place> {
        let side = match peer.to_canonical() {
            ip if ip.is_loopback() => Side::Here,
            ip => Side::Outside(network(ip)),
        };
        let mut entries = self.entries();
        let outside = |e: &Entry| e.side != Side::Here;
        match side {
            Side::Here => entries.make_room(MOST_HERE, |e| !outside(e))?,
            Side::Outside(_) => {
                entries.make_room(MOST_OF_ONE, |e| e.side == side)?;
                entries.make_room(MOST_OUTSIDE, outside)?;
            }
        }
        entries.next += 1;
        let (number, leave) = (entries.next, Arc::new(Notify::new()));
        entries.all.push(Entry {
            number,
            side,
            stage: Stage::Waiting,
            since: Instant::now(),
            leave: Arc::clone(&leave),
        });
        Some(Place {
            gate: self.clone(),
            number,
            leave,
        })
    }

    /// How many stand in the door.
    pub fn count(&self) -> usize {
        self.entries().all.len()
    }

    fn entries(&self) -> MutexGuard<'_, Entries> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Entries {
    /// Room for one more among those that count; `None` if there is none.
    fn make_room(&mut self, most: usize, counts: impl Fn(&Entry) -> bool) -> Option<()> {
        if self.all.iter().filter(|e| counts(e)).count() < most {
            return Some(());
        }
        let waits = |e: &&Entry| counts(e) && e.stage == Stage::Waiting;
        let longest = self.all.iter().filter(waits).min_by_key(|e| e.since)?;
        let (number, leave) = (longest.number, Arc::clone(&longest.leave));
        leave.notify_one();
        self.all.retain(|e| e.number != number);
        Some(())
    }
}

impl Place {
    /// Asks for something, until it is answered.
    pub fn ask(&self) {
        self.go(Stage::Waiting, Stage::Asking);
    }

    /// Got its answer.
    pub fn answered(&self) {
        self.go(Stage::Asking, Stage::Waiting);
    }

    fn go(&self, from: Stage, to: Stage) {
        let mut entries = self.gate.entries();
        let mine = entries.all.iter_mut().find(|e| e.number == self.number);
        if let Some(entry) = mine.filter(|e| e.stage == from) {
            (entry.stage, entry.since) = (to, Instant::now());
        }
    }

    /// Opens the page's socket on this connection; whether it may.
    pub fn open_page(&self) -> bool {
        let mut entries = self.gate.entries();
        let Some(side) = entries.side(self.number) else {
            return false;
        };
        let here = |e: &Entry| (e.side == Side::Here) == (side == Side::Here);
        let pages = entries.all.iter();
        let pages = pages.filter(|e| here(e) && e.stage == Stage::Page).count();
        if pages >= MOST_PAGES {
            return false;
        }
        let mut all = entries.all.iter_mut();
        if let Some(entry) = all.find(|e| e.number == self.number) {
            entry.stage = Stage::Page;
        }
        true
    }

    /// Waits until somebody else gets this place.
    pub async fn told_to_leave(&self) {
        self.leave.notified().await;
    }
}

impl Entries {
    fn side(&self, number: u64) -> Option<Side> {
        let mut all = self.all.iter();
        all.find(|e| e.number == number).map(|e| e.side)
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let number = self.number;
        let mut entries = self.gate.entries();
        entries.all.retain(|e| e.number != number);
        // What a flood took is given back.
        if entries.all.is_empty() {
            entries.all = Vec::new();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HERE: IpAddr = IpAddr::V4(std::net::Ipv4Addr::LOCALHOST);

    fn outside(net: u8, last: u8) -> IpAddr {
        IpAddr::from([10, 0, net, last])
    }

    fn all(gate: &Gate, from: impl Iterator<Item = IpAddr>) -> Vec<Place> {
        from.filter_map(|ip| gate.admit(ip)).collect()
    }

    #[test]
    fn a_flood_from_outside_leaves_places_for_this_machine() {
        let gate = Gate::default();
        let flood = (0..=255).flat_map(|net| (0..=255).map(move |last| outside(net, last)));
        let held = all(&gate, flood.take(1100));
        assert_eq!(gate.count(), MOST_OUTSIDE);
        held.iter().for_each(Place::ask);
        assert!(gate.admit(outside(9, 9)).is_none());
        assert!(gate.admit(HERE).is_some());
        drop(held);
        assert_eq!(gate.count(), 0);
    }

    #[test]
    fn one_address_takes_few_places() {
        let gate = Gate::default();
        let _held = all(&gate, (0..1100).map(|_| outside(0, 1)));
        assert_eq!(gate.count(), MOST_OF_ONE);
        assert!(gate.admit(outside(0, 2)).is_some());
    }

    #[test]
    fn who_asks_stays_and_who_waits_longest_leaves() {
        let gate = Gate::default();
        let owner = gate.admit(HERE).expect("a place");
        owner.ask();
        let waits = gate.admit(HERE).expect("a place");
        let held = all(&gate, (0..1100).map(|_| HERE));
        assert_eq!((held.len(), gate.count()), (1100, MOST_HERE));
        let told = |place: &Place| {
            let mut told = Box::pin(place.told_to_leave());
            let mut none = std::task::Context::from_waker(std::task::Waker::noop());
            told.as_mut().poll(&mut none).is_ready()
        };
        assert!(told(&waits) && !told(&owner));
        // The newest are the ones that stand there.
        let (old, new) = held.split_at(1100 - (MOST_HERE - 1));
        assert!(old.iter().all(told) && !new.iter().any(told));
        // Who left cannot open a page on a place that is another's.
        assert!(!waits.open_page() && owner.open_page());
        owner.answered();
        all(&gate, (0..1100).map(|_| HERE));
        assert!(!told(&owner), "a page keeps its place");
    }

    #[test]
    fn pages_are_counted_for_this_machine_and_for_outside() {
        let gate = Gate::default();
        let here = all(&gate, (0..=MOST_PAGES).map(|_| HERE));
        let opened = here.iter().filter(|place| place.open_page()).count();
        assert_eq!(opened, MOST_PAGES);
        let phone = gate.admit(outside(0, 1)).expect("a place");
        assert!(phone.open_page());
        drop(here);
        assert!(gate.admit(HERE).expect("a place").open_page());
    }
}
