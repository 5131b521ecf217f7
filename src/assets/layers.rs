//! Tables of rows with ids: the built-in file, then the practice's own, whose rows replace those with the same id or are
//! added.

use serde::de::DeserializeOwned;

use super::{Assets, Kind, LoadError, Problem};

/// Reads all layers of a table.
///
/// `id` names a row, `parse` reads one layer, `replaced` may refuse that a row of a later layer takes the place of an
/// earlier one.
///
/// # Errors
/// The file and what is wrong with it; also an id that stands twice in one file.
pub fn read<T>(
    assets: &Assets,
    path: &str,
    id: impl Fn(&T) -> String,
    parse: impl Fn(&str) -> Result<Vec<T>, Problem>,
    replaced: impl Fn(&T, &T) -> Result<(), Problem>,
) -> Result<Vec<T>, LoadError> {
    let mut rows: Vec<T> = Vec::new();
    for (layer, text) in assets.layers(path) {
        let told = |problem: Problem| problem.in_file(&layer);
        let mut of_layer = Vec::new();
        for row in parse(&text).map_err(told)? {
            let name = id(&row);
            if of_layer.contains(&name) {
                return Err(told(twice(&name)));
            }
            match rows.iter_mut().find(|old| id(old) == name) {
                Some(old) => {
                    replaced(old, &row).map_err(told)?;
                    *old = row;
                }
                None => rows.push(row),
            }
            of_layer.push(name);
        }
    }
    Ok(rows)
}

/// That an id stands twice.
#[must_use]
pub fn twice(id: &str) -> Problem {
    Problem::new(Kind::Twice, format!("{id} stands twice: rename or delete one")).of(id)
}

/// Reads a table.
///
/// # Errors
/// What TOML or the form of the table refuses, with its line.
pub fn table<T: DeserializeOwned>(text: &str) -> Result<T, Problem> {
    toml::from_str(text).map_err(|error| {
        let problem = Problem::new(Kind::Syntax, error.to_string());
        error.span().iter().fold(problem, |problem, span| problem.at(text, span))
    })
}
