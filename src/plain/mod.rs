//! Plain language, measured: words, sentences and syllables of what a patient reads, and what the formulas of the
//! language make of them.
//!
//! A formula knows nothing of content or layout. It warns; it does not judge. Accuracy beats score.

pub mod count;
pub mod english;
mod error;
pub mod formulas;
pub mod german;
pub mod measure;
pub mod names;
pub mod numerals;
pub mod score;
pub mod spanish;
pub mod split;
pub mod syllables;

pub use error::JudgeError;
