//! Results as SVG that stands alone (no script, no outside style, readable in print) and in
//! characters.

mod blocks;
mod canvas;
mod histogram;
mod range;

pub use blocks::{Blocks, blocks};
pub use histogram::histogram;
pub use range::range;
