//! Models of language: the file, and what an archive learned.

use super::{refused, went};
use crate::{Target, Went};
use markhold_language::counted::Counted;
use markhold_language::tokens::{TOKENS, Token, tokens};
use markhold_language::trie::Trie;
use markhold_language::{Context, Learned};
use miniz_oxide::deflate::compress_to_vec;
use miniz_oxide::inflate::decompress_to_vec;

const PROSE: &str = "the harbour light was seen at the end of the quay and the boats came in";

pub const MODEL: Target = Target {
    name: "model",
    try_bytes: model,
    seeds: || {
        let file = |order| Trie::new(&Counted::new(&tokens(PROSE), order)).to_bytes();
        let raw = |order: u8| {
            let inner = decompress_to_vec(&file(order.into())[5..]).unwrap_or_default();
            [vec![order], inner].concat()
        };
        vec![
            [vec![0], file(2)].concat(),
            [vec![0], file(5)].concat(),
            raw(1),
            raw(2),
            raw(5),
        ]
    },
    words: &["MKL1"],
    longest: 1 << 16,
};

/// The file of a model, and what it says of some contexts. The first byte is the order of a
/// model whose inside is the rest, which only few changes of the squeezed file reach; 0 for a
/// file as it is.
fn model(bytes: &[u8]) -> Went {
    let file = match bytes.split_first() {
        None => return went(0),
        Some((0, file)) => file.to_vec(),
        Some((order, inner)) => [&b"MKL1"[..], &[*order], &compress_to_vec(inner, 1)].concat(),
    };
    let trie = match Trie::from_bytes(&file) {
        Ok(trie) => trie,
        Err(error) => return refused(error),
    };
    for context in contexts(bytes) {
        let known = trie.known(context);
        assert!(known.len() <= context.len());
        sensible(&trie.row(context));
    }
    went((trie.order(), super::size(trie.grams())))
}

pub const LEARNED: Target = Target {
    name: "learned",
    try_bytes: learned,
    seeds: || {
        let mut learned = Learned::default();
        let none = learned.to_bytes();
        learned.learn(PROSE);
        vec![none, learned.to_bytes()]
    },
    words: &[],
    longest: 1 << 16,
};

/// What an archive learned, and how it changes a row.
fn learned(bytes: &[u8]) -> Went {
    let learned = match Learned::from_bytes(bytes) {
        Ok(learned) => learned,
        Err(error) => return refused(error),
    };
    let even = (TOKENS as f32).log2();
    for context in contexts(bytes) {
        let mut row = [even; TOKENS];
        learned.refine(context, &mut row);
        sensible(&row);
    }
    went((super::size(learned.contexts()), learned.is_empty()))
}

/// Contexts of what these bytes end with.
fn contexts(bytes: &[u8]) -> impl Iterator<Item = Context> {
    let last: Vec<Token> = bytes
        .iter()
        .rev()
        .take(9)
        .map(|b| b % TOKENS as u8)
        .collect();
    (0..=last.len()).map(move |n| Context::of(&last[..n]))
}

/// Costs in bits: none is a certainty against all sense.
fn sensible(row: &[f32; TOKENS]) {
    assert!(
        row.iter().all(|bits| bits.is_finite() && *bits >= 0.0),
        "{row:?}"
    );
}
