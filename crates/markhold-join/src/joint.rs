//! The joint copy: characters that say who bears them, and what differs on purpose.

use std::ops::Range;

use crate::character::JointCharacter;
use crate::columns::{Columns, Prepared};
use crate::rounds::{Together, together};
use crate::shares::{Copied, Shares, frequencies};
use crate::shift::figures;
use crate::variants::{Variant, variants};

/// One copy out of several.
#[derive(Clone, Debug, PartialEq)]
pub struct Joint {
    /// The copies that repeat each other, by their place among those given; the one that says
    /// most first.
    pub copies: Vec<usize>,
    /// All characters in order, also those that one copy alone has and those that are more
    /// likely invented than sent.
    pub characters: Vec<JointCharacter>,
    /// Where copies are sure and differ, in order.
    pub variants: Vec<Variant>,
}

/// Joins what repeats: one joint copy for each bulletin of which there are two copies or more.
/// Copies that repeat none of the others are in none of them.
///
/// The order of the joint copy is that of the copy that says most; what another has besides
/// stands behind what it follows there.
pub fn join(copies: &[Copied]) -> Vec<Joint> {
    let frequencies = frequencies(copies.iter().flat_map(|c| &c.slots));
    let prepare = |copy: &Copied| Prepared::new(&copy.slots, &frequencies);
    let prepared: Vec<Prepared> = copies.iter().map(prepare).collect();
    let information: Vec<f32> = copies.iter().map(Copied::information).collect();
    let found = together(&prepared, &information, &frequencies);
    found
        .into_iter()
        .map(|t| joint(t, &prepared, &frequencies))
        .collect()
}

fn joint(together: Together, copies: &[Prepared], frequencies: &Shares) -> Joint {
    let Together {
        columns,
        copies: who,
    } = together;
    let found = variants(&columns, copies, frequencies);
    let mut characters = characters(&columns);
    let votes: Vec<Vec<f32>> = columns.all.iter().map(|c| columns.votes(c)).collect();
    let figures = figures(&characters, &votes);
    for (character, figures) in characters.iter_mut().zip(figures) {
        character.figures = figures;
    }
    for (number, (span, variant)) in found.iter().enumerate() {
        tell(&mut characters[span.clone()], number, variant);
    }
    Joint {
        copies: who,
        characters,
        variants: found.into_iter().map(|(_, variant)| variant).collect(),
    }
}

fn characters(columns: &Columns) -> Vec<JointCharacter> {
    let present = columns.present();
    let character = |(column, present): (&crate::columns::Column, f32)| JointCharacter {
        codes: columns.product(column),
        present,
        agreed: columns.agreed(column),
        figures: columns.figures(column),
        slots: (0..column.voices.len()).map(|c| column.slot(c)).collect(),
        passed: column.voices.iter().map(Option::is_some).collect(),
        variant: None,
    };
    columns.all.iter().zip(present).map(character).collect()
}

/// In a variant the characters are those of its first wording: nothing is merged.
fn tell(characters: &mut [JointCharacter], number: usize, variant: &Variant) {
    let Range { start, .. } = variant.characters;
    for (at, character) in characters.iter_mut().enumerate() {
        character.variant = Some(number);
        let first = &variant.wordings[0];
        match first.places.iter().position(|p| *p == start + at) {
            Some(place) => {
                character.codes = first.codes[place];
                (character.present, character.agreed) = (1.0, 1.0);
            }
            None => character.present = 0.0,
        }
    }
}
