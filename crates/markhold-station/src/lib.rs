//! The station: sound as it comes, copied, shown, printed and kept, without a page or a terminal.
//!
//! ```text
//!   wishes --> Station --+-- radio: live path -> board --+--> paper
//!                        |            |                  +--> desk, terminal: whoever joins
//!                        |            +--> shelf
//!                        +-- practice: the same, by itself
//! ```
//!
//! * [`Station`] owns all of it. What is asked of it is a [`Wish`], what it tells is a
//!   [`Report`], and the sum of all reports is a [`Snapshot`].
//! * [`live`]: sound as it comes, kept, copied and shown at the same time; with the pictures of
//!   [`instruments`] and the words of [`tuning`].
//! * [`paper`]: the copy on a machine's paper. [`keeping`]: an evening on the shelf.
//! * [`answering`]: text typed ahead, sent by the transmitter that one page has armed.
//! * [`watching`]: what becomes of skeds.
//! * [`inputs`] and [`machines`]: what may be listened to and printed on. [`practice`]: a band
//!   with a receiver to turn.

pub mod answering;
mod board;
mod busy;
mod ear;
mod follower;
pub mod inputs;
pub mod instruments;
pub mod keeping;
pub mod live;
pub mod machines;
mod options;
pub mod paper;
pub mod practice;
mod received;
pub mod report;
mod rooms;
pub mod settings;
mod snapshot;
mod station;
mod subscription;
pub mod tuning;
pub mod watching;
mod wish;

pub use board::Board;
pub use ear::{Block, Ear};
pub use follower::Follower;
pub use options::{Shelved, StationOptions};
pub use report::{Report, Room};
pub use rooms::room_of;
pub use snapshot::{FollowedPoint, Snapshot};
pub use station::Station;
pub use subscription::{Delivery, Subscription};
pub use wish::{PrintOn, Wish, WishError};
