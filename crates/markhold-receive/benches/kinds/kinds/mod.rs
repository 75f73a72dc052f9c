//! The kinds of evening. Each draws everything about a recording from the whole range in
//! which a textbook receiver may still read; what it cannot read is drawn again. Nobody has
//! asked what the receiver finds easy.

mod neighbours;
mod ordinary;
mod paths;
mod receivers;
mod senders;
mod texts;

use crate::evenings::draw::Draw;
use crate::evenings::evening::Evening;

/// Changes an ordinary evening into one of a kind.
type Make = fn(&mut Evening, &mut Draw);

/// One kind.
pub struct Kind {
    pub name: &'static str,
    make: Make,
}

/// All kinds, in the order of the table.
pub fn all() -> Vec<Kind> {
    let ordinary: (&str, Make) = ("ordinary", |_, _| {});
    std::iter::once(ordinary)
        .chain(texts::KINDS)
        .chain(senders::KINDS)
        .chain(paths::KINDS)
        .chain(receivers::KINDS)
        .chain(neighbours::KINDS)
        .map(|(name, make)| Kind { name, make })
        .collect()
}

impl Kind {
    /// An evening of this kind.
    pub fn evening(&self, draw: &mut Draw) -> Evening {
        let mut evening = ordinary::evening(draw);
        (self.make)(&mut evening, draw);
        evening
    }
}
