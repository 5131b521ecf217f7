//! What kind of document a page is: `templates/fhir/documents.toml`. Rows of a practice's own file join them, or replace
//! the row of the same page.

use std::collections::BTreeMap;

use serde::Deserialize;

use crate::assets::{Assets, Kind, LoadError, Problem, layers};
use crate::document::Page;
use crate::exchange::fhir::mark::Mark;

const DOCUMENTS: &str = "templates/fhir/documents.toml";

/// Types of documents by page.
#[derive(Debug, Clone)]
pub struct Types(Vec<Row>);

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Row {
    page: Page,
    loinc: String,
    says: String,
    source: String,
    #[expect(dead_code, reason = "for whoever reads the table; reading it demands that it is there")]
    mark: Mark,
}

impl Types {
    /// Reads the table, that of the practice's own folder too.
    ///
    /// # Errors
    /// The file and what is wrong with it: a page that does not exist, a row without a code or a source.
    pub fn load(assets: &Assets) -> Result<Self, LoadError> {
        let rows = layers::read(assets, DOCUMENTS, |row: &Row| row.page.word().to_owned(), of_layer, |_, _| Ok(()))?;
        Ok(Self(rows))
    }

    /// The code of LOINC for a page, and what it means; none where no row has one.
    pub(super) fn of(&self, page: Page) -> Option<(&str, &str)> {
        let row = self.0.iter().find(|row| row.page == page)?;
        Some((&row.loinc, &row.says))
    }
}

fn of_layer(text: &str) -> Result<Vec<Row>, Problem> {
    let mut tables: BTreeMap<String, Vec<Row>> = layers::table(text)?;
    let rows = tables.remove("document").unwrap_or_default();
    if let Some(other) = tables.into_keys().next() {
        return Err(Problem::new(Kind::Value, format!("[[{other}]] does not belong here: write [[document]]")));
    }
    match rows.iter().find(|row| [&row.loinc, &row.says, &row.source].iter().any(|text| text.is_empty())) {
        Some(row) => {
            Err(Problem::new(Kind::Value, "it lacks its code, what it says or its source").of(row.page.word()))
        }
        None => Ok(rows),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own(text: &str) -> Result<Types, LoadError> {
        Types::load(&Assets::new([(DOCUMENTS.to_owned(), text.to_owned())].into()))
    }

    #[test]
    fn the_table_of_the_program_names_the_papers() {
        let types = Types::load(&Assets::default()).unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(types.of(Page::Note), Some(("28570-0", "procedure note")));
        assert_eq!(types.of(Page::Desk), None);
    }

    #[test]
    fn a_practice_replaces_a_row_and_a_wrong_one_is_refused() {
        let row =
            "[[document]]\npage = \"note\"\nloinc = \"1-8\"\nsays = \"x\"\nsource = \"ours\"\nmark = \"memory\"\n";
        assert_eq!(own(row).unwrap().of(Page::Note), Some(("1-8", "x")));
        for wrong in [
            row.replace("note", "notes"),
            row.replace("1-8", ""),
            row.replace("ours", ""),
            row.replace("memory", "heard"),
            row.replace("[[document]]", "[[documents]]"),
        ] {
            assert!(own(&wrong).is_err(), "{wrong}");
        }
    }
}
