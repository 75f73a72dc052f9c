//! The desk as a browser meets it, without a port.

mod answering;
mod common;
mod doors;
mod flood;
mod paper;
mod routes;
mod sessions;
