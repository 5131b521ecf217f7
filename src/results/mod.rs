//! What became of the eyes, and a practice's own honest results.
//!
//! An [`Outcome`] is what was seen of one eye at one visit after one session. [`Eyes`] puts the sessions of an eye
//! together, so that eyes are counted and not sessions, and `own` counts them: k of n *followed* of N treated, with the
//! exact interval. Nothing here reads a file or a clock; the day up to which is counted comes from outside.

mod chance;
mod count;
mod cusum;
pub mod due;
mod error;
mod exchange;
mod eyes;
mod funnel;
mod outcome;
mod own;
mod session;

pub(crate) use chance::Chance;
pub use count::{Counted, Rate};
pub use cusum::{Chart, Point, chart, limit};
pub use error::{Wrong, WrongOutcome};
pub use exchange::{HEADER, Lines, NotTable, Read, WrongLine, read, write};
pub use eyes::{Eye, Eyes, Followed, Standing};
pub use funnel::{Funnel, FunnelPoint, Limits, funnel, limits};
pub use outcome::{Change, Event, EventKind, OTHER_VISIT, Outcome, Questionnaire, Severity};
pub use own::{Endpoint, OwnResults, ReviewLine, Row, harm, own};
pub use session::{EyeGroup, FloaterGroup, Selection, Session, SessionNumber};
