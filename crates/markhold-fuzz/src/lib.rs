//! Any bytes whatever into everything that reads files, pages or lines of others.
//!
//! * [`targets`]: what is tried. Each is a function of bytes that panics where a law is
//!   broken, and otherwise tells how it went; each has seeds, which are well formed, and words
//!   that its readers look for.
//! * [`mutate`]: bytes a little changed.
//! * [`run`]: tries one target for some time. An input that went as none before is kept and
//!   changed further: by that a plain program without a look into the code comes far.
//!
//! `fuzz/` runs the same targets under a fuzzer that does look into the code.

pub mod mutate;
pub mod run;
pub mod targets;

/// How it went, as a number: inputs that went alike have the same.
pub type Went = u64;

/// One thing that is tried.
#[derive(Clone, Copy)]
pub struct Target {
    /// What it is called, in commands and folders.
    pub name: &'static str,
    /// Tries bytes. Panics where a law is broken.
    pub try_bytes: fn(&[u8]) -> Went,
    /// Bytes that are well formed.
    pub seeds: fn() -> Vec<Vec<u8>>,
    /// Words that its readers look for.
    pub words: &'static [&'static str],
    /// Longest input, bytes.
    pub longest: usize,
}
