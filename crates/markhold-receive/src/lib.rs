//! Finds and copies start-stop five-unit FSK.
pub mod event;
pub mod settings;
