//! Systems where an open port cannot be handed to a second process: nothing that needs a
//! guardian is keyed there.

use crate::divisor::Borrowed;
use crate::port::Port;
use crate::{Contact, KeyerError};
use std::time::Duration;

/// As on other systems.
#[derive(Default)]
pub(crate) struct PortRest {
    pub name: String,
    pub rts: Option<bool>,
    pub dtr: Option<bool>,
    pub break_off: bool,
    pub divisor: Option<Borrowed>,
}

/// As on other systems.
pub(crate) struct Held;

impl Held {
    pub(crate) fn port(_rest: PortRest, _port: &Port) -> Result<Self, KeyerError> {
        Ok(Held)
    }

    pub(crate) fn rig(_address: std::net::SocketAddr) -> Self {
        Held
    }

    pub(crate) fn command(_words: Vec<String>) -> Self {
        Held
    }
}

/// As on other systems; there is none.
pub(crate) enum Guard {}

impl Guard {
    pub(crate) fn arm(_held: Vec<Held>, _longest_space: Duration) -> Result<Guard, KeyerError> {
        Err(KeyerError::Unguarded {
            what: "this system has no second process to watch over the line".into(),
            remedy: "send words of five bits (serial:) without a wire for the motor, or tones"
                .into(),
        })
    }

    pub(crate) fn permit(&self) -> Permit {
        match *self {}
    }
}

/// As on other systems; there is none.
#[derive(Clone)]
pub(crate) enum Permit {}

impl Permit {
    pub(crate) fn check(&self) -> Result<(), KeyerError> {
        match *self {}
    }

    pub(crate) fn moves(&self) {
        match *self {}
    }

    pub(crate) fn rests(&self) {
        match *self {}
    }
}

/// As on other systems.
pub(crate) struct Permitted<K>(K, Permit);

impl<K: Contact> Permitted<K> {
    pub(crate) fn new(contact: K, permit: Permit) -> Self {
        Permitted(contact, permit)
    }
}

impl<K: Contact> Contact for Permitted<K> {
    fn key(&mut self, mark: bool) -> Result<(), KeyerError> {
        self.0.key(mark)
    }

    fn motor(&mut self, on: bool) -> Result<(), KeyerError> {
        self.0.motor(on)
    }
}
