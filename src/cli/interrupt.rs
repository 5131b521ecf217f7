//! What a person or the machine asks of a running program: to end.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;

/// A flag that Ctrl-C and a request to terminate set, so that what is being written is finished first. A second one ends
/// the program at once.
pub(super) fn asked() -> std::io::Result<Arc<AtomicBool>> {
    let stop = Arc::new(AtomicBool::new(false));
    for signal in [SIGINT, SIGTERM] {
        flag::register_conditional_shutdown(signal, 2, Arc::clone(&stop))?;
        flag::register(signal, Arc::clone(&stop))?;
    }
    Ok(stop)
}
