//! How the live path begins.

use super::clock::Clocks;
use super::keep::{KeepNothing, KeepSound};
use crate::board::Board;
use markhold_language::Learned;
use std::sync::Arc;

/// How to begin.
pub struct LiveOptions {
    /// Where everything is told; what is set at the start stands there.
    pub board: Board,
    /// What the archive's own copy taught, if that is wanted.
    pub learned: Option<Arc<Learned>>,
    /// What keeps the raw sound.
    pub keeper: Box<dyn KeepSound>,
    /// The clocks; others only in tests.
    pub clocks: Clocks,
}

impl Default for LiveOptions {
    /// Finds everything, keeps nothing.
    fn default() -> Self {
        LiveOptions {
            board: Board::default(),
            learned: None,
            keeper: Box::new(KeepNothing),
            clocks: Clocks::default(),
        }
    }
}
