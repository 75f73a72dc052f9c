//! One good copy out of several bad ones.
//!
//! A bulletin is repeated on other nights and bands. Each copy alone is full of holes;
//! together they hold nearly everything. Nothing is decided before all were heard:
//!
//! ```text
//! copies -> find      stretches in which two may say the same, by diagonals
//!        -> align     which slot of one is which of the other, as probabilities
//!        -> columns   each place of the bulletin, and what every copy says of it
//!        -> rounds    each copy aligned against the rest, until nothing changes
//!        -> variants  where copies are sure and differ: shown, never merged
//! ```
//!
//! * [`Copied`]: one copy, slot by slot ([`Slot`]), as shares of all codes.
//! * [`beside`]: a copy beside a text that is known.
//! * [`join`]: copies in, a [`Joint`] out: characters that say who bears them, and variants.
//!
//! Likelihoods are added of codes, not of what they print: a copy that lost a shift prints
//! nonsense and still tells the codes. The shift is told last, by all copies (`shift`).
//!
//! The crate knows no files, clocks or archives, and no language.

mod align;
mod beside;
mod character;
mod columns;
mod consensus;
mod existence;
mod find;
mod joint;
mod rates;
mod rounds;
mod shares;
mod shift;
mod sides;
mod spans;
mod variants;

#[cfg(test)]
mod full;

pub use beside::{Expected, beside};
pub use character::JointCharacter;
pub use joint::{Joint, join};
pub use rates::SURE;
pub use shares::{Copied, Shares, Slot};
pub use variants::{Variant, Wording};
