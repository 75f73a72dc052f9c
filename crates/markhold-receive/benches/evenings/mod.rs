//! Recordings of evenings, made by code that shares nothing with `markhold-air` or the receiver.
//!
//! From text to sound: `text`, `alphabet`, `sender`, `path`; beside it `troubles` and
//! `strangers`; through `filter` and `card` to what a computer hears: `evening`.

// Not every bench that listens needs everything.
#![allow(dead_code)]

pub mod alphabet;
pub mod card;
pub mod draw;
pub mod evening;
pub mod filter;
pub mod languages;
pub mod noise;
pub mod path;
pub mod sender;
pub mod strangers;
pub mod stray;
pub mod text;
pub mod tone;
pub mod troubles;
