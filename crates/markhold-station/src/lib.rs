//! The station: sound as it comes, kept, copied, shown and printed.
//!
//! * [`live`]: sound as it comes, kept, copied and shown at the same time.
//! * [`paper`]: the live copy on a machine's paper.

pub mod live;
pub mod paper;
