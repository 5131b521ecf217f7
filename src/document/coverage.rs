//! Which required elements of a jurisdiction a consent holds.

use std::collections::BTreeSet;

use super::part::Part;
use super::reading::Passage;
use crate::content::Library;
use crate::content::jurisdiction::{Element, Jurisdiction};
use crate::facts::Facts;

/// An element that applies to this case, and what of it the pages lack.
#[derive(Debug, Clone)]
pub struct Covered<'a> {
    /// The element.
    pub element: &'a Element,
    /// Ids on the pages that meet it, in the order of the page.
    pub by: Vec<&'a str>,
    /// What should stand on the pages and does not.
    pub lacking: Vec<&'a str>,
}

/// Compares the passages of a consent with every element that applies to this case.
#[must_use]
pub fn coverage<'a>(
    jurisdiction: &'a Jurisdiction,
    library: &'a Library,
    facts: &Facts,
    passages: &'a [Passage],
) -> Vec<Covered<'a>> {
    let present: BTreeSet<&str> =
        passages.iter().filter(|passage| !passage.text.trim().is_empty()).map(|passage| passage.id.as_str()).collect();
    let applies = jurisdiction.elements.iter().filter(|element| element.when.holds(facts));
    let covered = applies.map(|element| {
        let wanted = &element.row.met_by;
        let by = passages.iter().map(|passage| passage.id.as_str());
        let mut by: Vec<&str> = by.filter(|id| wanted.iter().any(|wanted| meets(library, wanted, id))).collect();
        by.dedup();
        let lacks = |wanted: &&str| !present.iter().any(|id| meets(library, wanted, id));
        Covered { element, by, lacking: wanted.iter().map(String::as_str).filter(lacks).collect() }
    });
    covered.collect()
}

/// Whether the statement or part with this id is what a rule names.
fn meets(library: &Library, wanted: &str, id: &str) -> bool {
    match wanted.strip_prefix("section/") {
        None => wanted == id,
        Some(section) => {
            library.statements.iter().any(|statement| statement.row.id == id && statement.row.section == section)
        }
    }
}

/// What every consent must hold, wherever it is used: cost and regulation, as the practice set them.
#[must_use]
pub fn always_lacking(passages: &[Passage]) -> Vec<String> {
    let lacks = |part: &Part| !passages.iter().any(|passage| passage.id == part.id());
    [Part::Cost, Part::Regulation].iter().filter(|part| lacks(part)).map(|part| part.id()).collect()
}

/// Ids that a jurisdiction names although neither a statement, nor a part, nor a section is called so.
#[must_use]
pub fn unknown_ids(jurisdiction: &Jurisdiction, library: &Library) -> Vec<String> {
    let statement = |id: &str| library.statements.iter().any(|statement| statement.row.id == id);
    let section = |id: &str| {
        let name = id.strip_prefix("section/");
        name.is_some_and(|name| library.statements.iter().any(|statement| statement.row.section == name))
    };
    let named = jurisdiction.elements.iter().flat_map(|element| &element.row.met_by);
    named.filter(|id| !Part::is(id) && !statement(id) && !section(id)).cloned().collect()
}
