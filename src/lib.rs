//! One case record in, a consent packet and a dated aftercare packet out.
//!
//! One direction, no step looks back:
//! `record -> facts -> findings -> plan -> content -> document -> render`. [`packet`] takes a case through all of them;
//! [`review`] answers questions about it with typed values; [`exchange`] reads what other systems write;
//! [`files`] is the only part that touches files, [`cli`] the only one that touches streams and the clock. `desk` shows
//! cases in the browser, `register` remembers them, and `verify` tells whether a file is what was issued.

pub mod assets;
pub mod batch;
#[cfg(feature = "typeset")]
pub mod cli;
pub mod content;
pub mod demo;
#[cfg(feature = "desk")]
pub mod desk;
pub mod diag;
pub mod document;
pub mod exchange;
pub mod facts;
pub mod files;
pub mod findings;
pub mod packet;
pub mod plain;
pub mod plan;
pub mod practice;
pub mod proof;
pub mod record;
#[cfg(feature = "register")]
pub mod register;
pub mod render;
pub mod results;
pub mod review;
#[cfg(feature = "desk")]
pub mod verify;
