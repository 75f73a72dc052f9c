//! How likely the next letter is: the language that joins the reading as a witness.
//!
//! # Steps
//!
//! 1. **tokens**: text as 29 tokens, all that five units can tell of prose ([`tokens`]).
//! 2. **counted**: n-grams of a text, smoothed ([`counted`]) and pruned ([`pruned`]).
//! 3. **trie**: the model as it is kept and looked up ([`trie`]), and its file ([`file`]).
//! 4. **learned**: a small model of one archive's own copy ([`learned`]).
//! 5. **language**: both together ([`language`]).
//! 6. **latin**: letters of whatever language ([`latin`]).
//! 7. **writer**: what somebody writes next, of whatever kind it is ([`writer`]).
//!
//! The crate knows no sound, and it has no say in shifts or in what stands in figures.

pub mod counted;
pub mod file;
pub mod language;
pub mod latin;
pub mod learned;
pub mod pruned;

pub mod tokens;
pub mod trie;
pub mod writer;

pub use language::Language;
pub use learned::Learned;

pub use tokens::Context;
pub use writer::{Kind, State, Writer};
