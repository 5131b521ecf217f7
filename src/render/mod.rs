//! Step 7: bytes. Pages as tagged PDF, HTML or plain text, doses and visits as a calendar file.
//!
//! Only `pdf`, `typeset` and what stands behind them need the typesetter; a build without the feature `typeset` does the rest.

#[cfg(feature = "typeset")]
pub mod apart;
pub mod charts;
mod colours;
pub mod dosage;
pub mod drawing;
mod error;
pub mod events;
pub mod fonts;
#[cfg(feature = "typeset")]
mod geometry;
pub mod glyphs;
pub mod html;
pub mod ics;
#[cfg(feature = "typeset")]
mod layout;
pub mod lines;
#[cfg(feature = "typeset")]
pub mod pdf;
#[cfg(feature = "typeset")]
mod pictures;
#[cfg(feature = "typeset")]
mod seal;
mod shapes;
mod share;
pub mod text;
#[cfg(feature = "typeset")]
mod turns;
#[cfg(feature = "typeset")]
pub mod typeset;
#[cfg(feature = "typeset")]
mod world;

pub use error::{Exceeded, Fault, RenderError, Stop};
