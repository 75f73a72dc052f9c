//! Paper: what a page printer shows, and what it must be sent.
//!
//! # Steps
//!
//! * [`Machine`]: what one page printer is and how it likes to be served; ready-made
//!   [`kinds`], or a table of the settings file.
//! * [`Discipline`]: copy in, [`Order`]s out: what this machine can print of it, with the
//!   line endings, shifts, waits and motor that it needs. Works while copy arrives.
//! * [`Printer`]: codes with their times in, a [`Page`] out: carriage, line feed,
//!   overprinting, bell.
//! * [`render`]: the same page as text, HTML, SVG, PDF and PNG.
//!
//! The crate knows no files, devices or clocks. Time is always seconds on the axis of what
//! is given in; the same input gives the same output.

mod discipline;
mod machine;
mod page;
pub mod render;

pub use discipline::{Copied, Discipline, Left, Order, Ordered, Source, discipline, timed};
pub use machine::{
    AtMargin, Blank, Figures, Fill, Kind, LineEnding, Machine, MachineError, kind, kinds,
};
pub use page::{Bell, Ink, Line, Page, Printer, Strike, Struck, print};
