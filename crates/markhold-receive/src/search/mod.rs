//! The search: where in the band pairs of tones lie, and which of them are start-stop.
//!
//! Two steps. [`spectrum`] proposes: two humps that stand out of the noise. [`trial`]
//! judges: does a start-stop line explain these two tones better than noise, a carrier,
//! or tones keyed at random?
pub mod finder;
pub mod passband;
pub mod spectrum;
pub mod swept;
pub mod trial;
pub mod turned;

pub use crate::pair::rivals;
