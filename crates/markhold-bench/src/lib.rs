//! The bench: keeps a page printer and its line in adjustment.
//!
//! * [`pattern`]: what is sent to adjust a machine, as codes.
//! * [`distortion`]: codes as a keyed line, exact in time, distorted on purpose.
//! * [`selector`]: an ideal receiving selector, to say what a machine should make of it.
//! * [`range`]: step by step to the range of a machine's selector.
//! * [`line`]: a keyed line as edges, the language of all measuring.
//! * [`sound`]: edges out of sound: two tones, or one keyed tone.
//! * [`measure`]: speed, bias, end, individual, gross and synchronous distortion of edges.
//! * [`limits`]: what published limits say about a measurement.
//! * [`circuit`]: arithmetic of the local loop.
//! * [`drawing`]: results as SVG.
//! * [`caution`]: what to say wherever hands come near a machine or a loop.
//!
//! Nothing here knows files, devices, threads or clocks. Distortion is a share of one
//! element throughout (0.1 = 10 %); late is positive.

pub mod caution;
pub mod circuit;
pub mod distortion;
pub mod drawing;
pub mod limits;
pub mod line;
pub mod measure;
pub mod pattern;
pub mod range;
pub mod selector;
pub mod sound;
pub mod stamps;

pub use distortion::{Distortion, DistortionError, Sending};
pub use line::Edge;
pub use pattern::Pattern;
