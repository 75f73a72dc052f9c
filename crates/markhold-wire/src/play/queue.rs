//! What waits to be played, shared between the player and its thread.

use markhold_page::{Order, Ordered};
use std::collections::VecDeque;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// What the thread should do next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Next {
    /// Play this order; it stays in the queue until [`Queue::played`].
    Play(Ordered),
    /// Put the line to mark, then [`Queue::cancelled`].
    Cancel,
    /// Everything is played and nothing more comes.
    End,
}

#[derive(Debug, Default)]
struct State {
    orders: VecDeque<Ordered>,
    /// Somebody waits for the line to be in mark.
    cancel: bool,
    /// The way is not open, so there is no line to put to mark.
    away: bool,
    /// Nothing more comes.
    ended: bool,
    /// Nothing more is taken.
    closed: bool,
    /// The thread has stopped for good.
    stopped: bool,
}

impl State {
    fn next(&self) -> Option<Next> {
        if self.cancel {
            return Some(Next::Cancel);
        }
        let order = self.orders.front().map(|order| Next::Play(*order));
        order.or(self.ended.then_some(Next::End))
    }
}

/// Orders in the order they are played.
#[derive(Debug, Default)]
pub struct Queue {
    state: Mutex<State>,
    changed: Condvar,
}

impl Queue {
    /// Adds orders at the end. Nothing is added once the thread has stopped, or was told
    /// to stop.
    pub fn push(&self, orders: &[Ordered]) {
        let mut state = self.lock();
        if !state.stopped && !state.closed {
            state.orders.extend(orders);
        }
        self.changed.notify_all();
    }

    /// Orders that have not been played.
    pub fn len(&self) -> usize {
        self.lock().orders.len()
    }

    /// Codes among them.
    pub fn codes(&self) -> usize {
        let is_code = |ordered: &&Ordered| matches!(ordered.order, Order::Send(_));
        self.lock().orders.iter().filter(is_code).count()
    }

    /// Nothing more comes.
    pub fn end(&self) {
        self.lock().ended = true;
        self.changed.notify_all();
    }

    /// Drops everything and waits until the thread has put the line to mark, unless the way
    /// is away. Gives the number of orders dropped.
    pub fn cancel(&self) -> usize {
        let mut state = self.lock();
        let dropped = state.orders.len();
        state.orders.clear();
        self.mark(state);
        dropped
    }

    /// As [`Queue::cancel`]; then only these are played, whatever somebody adds meanwhile;
    /// not even these while the way is away, which may last for ever.
    pub fn close(&self, last: &[Ordered]) -> usize {
        let mut state = self.lock();
        let dropped = state.orders.len();
        state.orders.clear();
        if !state.stopped && !state.away {
            state.orders.extend(last);
        }
        (state.closed, state.ended) = (true, true);
        self.mark(state);
        dropped
    }

    /// Waits until the thread has put the line to mark, unless the way is away.
    fn mark<'a>(&'a self, mut state: MutexGuard<'a, State>) {
        state.cancel = !state.stopped;
        self.changed.notify_all();
        while state.cancel && !state.away {
            state = self.wait(state);
        }
    }

    /// Waits for something to do.
    pub fn next(&self) -> Next {
        let mut state = self.lock();
        loop {
            if let Some(next) = state.next() {
                return next;
            }
            state = self.wait(state);
        }
    }

    /// What there is to do now, if anything.
    pub fn peek(&self) -> Option<Next> {
        self.lock().next()
    }

    /// Whether the way is away: nobody need wait for the line then.
    pub fn set_away(&self, away: bool) {
        self.lock().away = away;
        self.changed.notify_all();
    }

    /// Whether somebody waits for the line to be in mark.
    pub fn is_cancelled(&self) -> bool {
        self.lock().cancel
    }

    /// The first order has been played.
    pub fn played(&self) {
        let mut state = self.lock();
        // What was cancelled meanwhile is gone already.
        if !state.cancel {
            state.orders.pop_front();
        }
    }

    /// This one comes before all others.
    pub fn push_front(&self, order: Ordered) {
        let mut state = self.lock();
        if !state.cancel {
            state.orders.push_front(order);
        }
    }

    /// So much of the first order, a hold, is left.
    pub fn left_to_hold(&self, seconds: f64) {
        let mut state = self.lock();
        if state.cancel {
            return;
        }
        if let Some(first) = state.orders.front_mut() {
            first.order = Order::Hold(seconds);
        }
    }

    /// The line is in mark.
    pub fn cancelled(&self) {
        self.lock().cancel = false;
        self.changed.notify_all();
    }

    /// Waits so long, or until somebody cancels, or until nothing is left to wait for.
    pub fn pause(&self, time: Duration) {
        let state = self.lock();
        let waits = |state: &mut State| !(state.cancel || state.ended && state.orders.is_empty());
        let waited = self.changed.wait_timeout_while(state, time, waits);
        drop(waited.unwrap_or_else(PoisonError::into_inner));
    }

    /// The thread stops; gives what was not played.
    pub fn stop(&self) -> Vec<Ordered> {
        let mut state = self.lock();
        state.stopped = true;
        state.cancel = false;
        self.changed.notify_all();
        state.orders.drain(..).collect()
    }

    fn lock(&self) -> MutexGuard<'_, State> {
        // The state is whole after every statement, so a panic elsewhere spoils nothing.
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn wait<'a>(&self, state: MutexGuard<'a, State>) -> MutexGuard<'a, State> {
        self.changed
            .wait(state)
            .unwrap_or_else(PoisonError::into_inner)
    }
}
