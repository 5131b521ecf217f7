//! Tables of rows with ids: the built-in file, then the practice's own, whose rows replace those with the same id or are
//! added.

use super::Assets;

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
    parse: impl Fn(&str) -> Result<Vec<T>, String>,
    replaced: impl Fn(&T, &T) -> Result<(), String>,
) -> Result<Vec<T>, String> {
    let mut rows: Vec<T> = Vec::new();
    for (layer, text) in assets.layers(path) {
        let told = |error: String| format!("{layer}: {error}");
        let mut of_layer = Vec::new();
        for row in parse(&text).map_err(told)? {
            let name = id(&row);
            if of_layer.contains(&name) {
                return Err(told(format!("{name} stands twice: rename or delete one")));
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
