//! The draft as a case record to go on with: TOML, with origins, questions and what was not taken as comments above it.

use std::fmt::Write;

use super::brought::{Asked, Candidate, Incoming, NotTaken, Origin, Taken};

const HEAD: &str = "\
# A draft of a case record from FHIR. Read each value against its source. Keys that are not here were not asked yet;
# unknown never means no.
";

/// The draft with everything that was found.
///
/// # Errors
/// A value that TOML cannot hold; a draft that was read has none.
pub fn commented(found: &Incoming) -> Result<String, toml::ser::Error> {
    let mut text = HEAD.to_owned();
    section(&mut text, "Taken", found.taken.iter().flat_map(taken));
    section(&mut text, "To be asked", found.asked.iter().flat_map(asked));
    section(&mut text, "Not taken", found.not_taken.iter().map(not_taken));
    text.push('\n');
    text.push_str(&toml::to_string(&found.record)?);
    Ok(text)
}

fn section(text: &mut String, title: &str, lines: impl Iterator<Item = String>) {
    let mut lines = lines.peekable();
    if lines.peek().is_some() {
        let _ = writeln!(text, "#\n# {title}:");
    }
    // What another system wrote must not leave its comment.
    let one_line = |line: String| line.chars().map(|c| if c.is_control() { ' ' } else { c }).collect::<String>();
    lines.for_each(|line| _ = writeln!(text, "#   {}", one_line(line)));
}

fn taken(Taken { key, value, origins }: &Taken) -> Vec<String> {
    let from = |origin: &Origin| format!("{key} = {value} from {origin}");
    origins.iter().map(from).collect()
}

fn asked(Asked { key, why, candidates }: &Asked) -> Vec<String> {
    let key = key.as_deref().unwrap_or("the patient");
    let candidate = |Candidate { value, origin }: &Candidate| {
        let value = value.as_ref().map(|value| format!("{value} from ")).unwrap_or_default();
        format!("  {value}{origin}")
    };
    std::iter::once(format!("{key}: {why}")).chain(candidates.iter().map(candidate)).collect()
}

fn not_taken(NotTaken { why, origin }: &NotTaken) -> String {
    format!("{origin}: {why}")
}
