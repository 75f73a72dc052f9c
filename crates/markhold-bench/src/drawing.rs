//! Results as SVG that stands alone: no script, no outside style, readable in print.

mod canvas;
mod histogram;
mod range;

pub use histogram::histogram;
pub use range::range;
