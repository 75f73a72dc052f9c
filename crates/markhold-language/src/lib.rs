//! How likely the next letter is: the language that joins the reading as a witness.
//!
//! # Steps
//!
//! 1. **tokens**: text as 29 tokens, all that five units can tell of prose ([`tokens`]).
//! 2. **counted**: n-grams of a text, smoothed ([`counted`]) and pruned ([`pruned`]).
//! 3. **trie**: the model as it is kept and looked up ([`trie`]), and its file ([`file`]).
//! 4. **learned**: a small model of one archive's own copy ([`learned`]).
//! 5. **language**: both together ([`language`]).
//! 6. **sender**: what somebody sends next, code by code ([`sender`]).
//!
//! The crate knows no sound. It weighs nothing that stands in figures, and nothing in words
//! that do not look like prose.

pub mod counted;
pub mod file;
pub mod language;
pub mod learned;
pub mod pruned;
pub mod sender;

pub mod tokens;
pub mod trie;

pub use language::Language;
pub use learned::Learned;

pub use sender::{Habits, Sender, State};
pub use tokens::Context;
