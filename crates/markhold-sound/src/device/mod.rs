//! Devices: where sound comes from while it is heard.
//!
//! ```text
//!   device callback -> ring made beforehand -> sound thread
//! ```
//!
//! The callback moves samples and nothing else: it takes no memory, no lock, and waits for
//! nobody. What does not fit is counted and marked in its place. A watchdog looks at when
//! the callback last came, because a sound server that dies often says nothing, and at how much
//! came by the clock, because one that loses sound says nothing either.

mod arrears;
mod input;
mod list;
mod open;
mod ring;
#[cfg(target_os = "linux")]
mod server;
mod system;

pub use input::DeviceSource;
pub use list::{InputId, InputInfo, inputs};
pub use open::{OpenInput, Opened};
pub use ring::{Pool, RING_S, Tap, ring};
pub use system::SystemInput;
