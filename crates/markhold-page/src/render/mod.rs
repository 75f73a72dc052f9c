//! The same page as text, HTML, SVG, PDF and PNG.
//!
//! All five are deterministic: the same page gives the same bytes. They hold no date and no
//! name of a program.

pub mod html;
mod layout;
pub mod pdf;
pub mod png;
mod strokes;
pub mod svg;
pub mod text;
