//! The desk: the page beside the dial, and the server that brings it to the browser.
//!
//! ```text
//!   Station (sound, copy, paper) --> Desk --> one session per browser --> the page
//!                                <-- wishes of the person <----
//! ```
//!
//! * [`Desk`] holds what all browsers share; [`app`] makes the web service of it, which
//!   needs no port to be tested; [`serve`] opens the port, `connections` says who may hold one.
//! * [`door`] says who may come in.
//! * A session ([`socket`]) first gets the sum of all that was told so far, then what comes.
//!   Pictures and sound go as bytes ([`frame`], [`hearing`]), everything else as JSON ([`say`]). One browser that is
//!   slow waits for itself only.
//! * [`sheet`] lays out the copy as the station's machine would print it.
//! * [`SkedBook`]: where tonight and the skeds to edit come from.
//! * `evenings` shows what was kept, [`manual`] the chapters of `docs/`.
//! * [`settle`] foretells when the receiver is warm.
//!
//! The page's own files lie in `assets/`: plain modules, no build.

mod app;
pub mod assets;
mod connections;
mod contacts;
mod desk;
pub mod door;
mod evenings;
pub mod frame;
pub mod hearing;
pub mod manual;
pub mod pictures;
pub mod say;
pub mod serve;
pub mod settle;
pub mod share;
pub mod sheet;
mod sked_book;
mod skeds;
pub mod socket;
pub mod view;
mod warm;

pub use app::app;
pub use desk::{Desk, plain_machine};
pub use sked_book::{DialSaid, SkedBook};
