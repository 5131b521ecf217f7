//! The browser, opened at a page of ours that leads on to the desk: a command line can be read by everybody on a machine, a
//! file of one's own cannot.

use std::path::Path;
use std::process::{Command, Stdio};

use super::error::DeskError;
use crate::files::create;

/// Name of the page that leads on.
const PAGE: &str = "open-the-desk.html";

pub(super) fn browser(text: &str, folder: &Path) -> Result<(), DeskError> {
    let page = folder.join(PAGE);
    create::create(&page, text.as_bytes())?;
    // Whoever has no browser opens the address that was printed.
    let _ = opener().arg(&page).stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn();
    Ok(())
}

#[cfg(target_os = "macos")]
fn opener() -> Command {
    Command::new("open")
}

#[cfg(windows)]
fn opener() -> Command {
    let mut command = Command::new("rundll32.exe");
    command.arg("url.dll,FileProtocolHandler");
    command
}

#[cfg(not(any(target_os = "macos", windows)))]
fn opener() -> Command {
    Command::new("xdg-open")
}
