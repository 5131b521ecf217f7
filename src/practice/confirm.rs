//! The confirmation of a practice, written into the text of its profile.

use crate::record::date::Date;

const TABLE: &str = "[confirmation]";

/// The text of a profile with the confirmation of a clinician in place of the one it has. Everything else stays as it is
/// written.
///
/// ```
/// use vitreoleaf::practice::with_confirmation;
///
/// let profile = "[practice]\nname = \"X\"\n\n[confirmation]\nclinician = \"Old\"\n\n[notices]\n";
/// let on = "2026-08-12".parse().unwrap();
/// let confirmed = with_confirmation(profile, "Dr. Ada Sample", on, "00ff");
/// assert!(confirmed.starts_with("[practice]\nname = \"X\"\n\n[notices]\n"));
/// assert!(confirmed.ends_with("\n[confirmation]\nclinician = \"Dr. Ada Sample\"\non = \"2026-08-12\"\nhash = \"00ff\"\n"));
/// ```
#[must_use]
pub fn with_confirmation(profile: &str, clinician: &str, on: Date, hash: &str) -> String {
    let mut text = without(profile);
    if !text.ends_with('\n') {
        text.push('\n');
    }
    let clinician = toml::Value::from(clinician);
    format!("{text}\n{TABLE}\nclinician = {clinician}\non = \"{on}\"\nhash = \"{hash}\"\n")
}

/// The lines outside the table.
fn without(profile: &str) -> String {
    let mut inside = false;
    let mut kept = String::new();
    for line in profile.split_inclusive('\n') {
        if line.starts_with('[') {
            inside = line.trim_end() == TABLE;
        }
        if !inside {
            kept.push_str(line);
        }
    }
    kept
}
