//! What codes mean for a case record: `templates/fhir/*.toml`. Rows of a practice's own file join them, or replace the
//! row of the same code.

use std::collections::BTreeMap;

use serde::Deserialize;
use serde::de::DeserializeOwned;

use crate::assets::{Assets, Kind, LoadError, Problem, layers};
use crate::exchange::fhir::element::Coding;
use crate::exchange::fhir::mark::Mark;
use crate::record::Record;
use crate::record::form;
use crate::record::sides::Sides;

const SYSTEMS: &str = "templates/fhir/systems.toml";
const CODES: &str = "templates/fhir/codes.toml";
const MEASURES: &str = "templates/fhir/measures.toml";
const MEDICINES: &str = "templates/fhir/medicines.toml";
const EYES: &str = "templates/fhir/eyes.toml";
const ROUTES: &str = "templates/fhir/routes.toml";
const UNITS: &str = "templates/fhir/units.toml";

/// All tables.
#[derive(Debug, Clone)]
pub struct Tables {
    /// Names of code systems by the address under which FHIR knows them.
    systems: BTreeMap<String, String>,
    codes: Vec<Row>,
    measures: Vec<Row>,
    medicines: Vec<Row>,
    eyes: Vec<Row>,
    routes: Vec<Row>,
    units: Vec<Unit>,
    pub(super) sides: Sides,
}

/// A code, what it means there, where that was read, and what it says here.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Row {
    system: String,
    code: String,
    says: String,
    source: String,
    #[expect(dead_code, reason = "for whoever reads the table; reading it demands that it is there")]
    mark: Mark,
    /// Which kinds of resources may say it.
    #[serde(default)]
    of: Vec<String>,
    /// What it says in the record.
    #[serde(default)]
    pub(super) set: Vec<Set>,
    /// What it denies.
    #[serde(default)]
    pub(super) denies: Option<Denies>,
    /// The key that is measured.
    #[serde(default)]
    key: Option<String>,
    /// Unit in which the record holds it, by UCUM; left out where it is no number.
    #[serde(default)]
    pub(super) unit: Option<String>,
    /// Which eye it names.
    #[serde(default)]
    pub(super) eye: Option<Eyes>,
    /// Generic name of a medicine as `templates/medicines.toml` or the formulary has it.
    #[serde(default)]
    name: Option<String>,
    /// Whether the route leads into the eye.
    #[serde(default)]
    into_eye: Option<bool>,
}

impl Row {
    /// The key that is measured; a table of measures holds no row without one.
    pub(super) fn key(&self) -> &str {
        self.key.as_deref().unwrap_or_default()
    }
}

/// A value that a code gives to a key.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Set {
    pub(super) key: String,
    /// While it is so. `date` is the day of a procedure.
    pub(super) now: String,
    /// When it is over; left out: asked about.
    #[serde(default)]
    pub(super) past: Option<String>,
}

/// What a code denies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Denies {
    /// All entries of the list: there are none.
    All,
    /// A part of what the record asks about.
    Part,
    /// Nothing: it says that nothing is known.
    Nothing,
}

/// Eyes that something is said of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Eyes {
    /// The right one.
    Right,
    /// The left one.
    Left,
    /// Both.
    Both,
}

/// How a unit becomes another.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Unit {
    from: String,
    to: String,
    /// What a number is multiplied with.
    factor: f64,
    source: String,
    #[expect(dead_code, reason = "for whoever reads the table; reading it demands that it is there")]
    mark: Mark,
}

impl Tables {
    /// Reads all tables, those of the practice's own folder too.
    ///
    /// # Errors
    /// The file and what is wrong with it: a code system, key or word that is not known, a row without a source.
    pub fn load(assets: &Assets) -> Result<Self, LoadError> {
        let tables = Self {
            systems: systems(assets)?,
            codes: rows(assets, CODES, "code")?,
            measures: rows(assets, MEASURES, "measure")?,
            medicines: rows(assets, MEDICINES, "medicine")?,
            eyes: rows(assets, EYES, "eye")?,
            routes: rows(assets, ROUTES, "route")?,
            units: units(assets)?,
            sides: Sides::load(assets)?,
        };
        tables.check().map(|()| tables)
    }

    /// Short name of the code system of a coding.
    fn system(&self, coding: &Coding) -> Option<&str> {
        self.systems.get(coding.system.trim_end_matches('/')).map(String::as_str)
    }

    /// A code with the short name of its system, for whoever looks it up.
    pub(super) fn named(&self, coding: &Coding) -> String {
        let system = self.system(coding).unwrap_or(&coding.system);
        format!("{system} {}", coding.code).trim().to_owned()
    }

    /// The first code of a system among some.
    pub(super) fn of_system<'c>(&self, codings: &'c [Coding], system: &str) -> Option<&'c Coding> {
        codings.iter().find(|coding| self.system(coding) == Some(system))
    }

    fn find<'t>(&self, rows: &'t [Row], codings: &[Coding], fits: impl Fn(&Row) -> bool) -> Option<(&'t Row, Coding)> {
        codings.iter().find_map(|coding| {
            let system = self.system(coding)?;
            let is_it = |row: &&Row| row.system == system && row.code == coding.code && fits(row);
            Some((rows.iter().find(is_it)?, coding.clone()))
        })
    }

    /// What the codes of a kind of resource say; the first that is known.
    pub(super) fn code(&self, kind: &str, codings: &[Coding]) -> Option<(&Row, Coding)> {
        self.find(&self.codes, codings, |row| row.of.iter().any(|of| of == kind))
    }

    /// What is measured.
    pub(super) fn measure(&self, codings: &[Coding]) -> Option<(&Row, Coding)> {
        self.find(&self.measures, codings, |_| true)
    }

    /// The generic name of a medicine.
    pub(super) fn medicine(&self, codings: &[Coding]) -> Option<(&str, Coding)> {
        let (row, coding) = self.find(&self.medicines, codings, |_| true)?;
        Some((row.name.as_deref()?, coding))
    }

    /// The eye that a code names.
    pub(super) fn eye(&self, coding: Coding) -> Option<Eyes> {
        self.find(&self.eyes, &[coding], |_| true)?.0.eye
    }

    /// Whether a route leads into the eye.
    pub(super) fn leads_into_eye(&self, codings: &[Coding]) -> Option<bool> {
        self.find(&self.routes, codings, |_| true)?.0.into_eye
    }

    /// A number in another unit; nothing if no row leads there.
    pub(super) fn convert(&self, value: f64, from: &str, to: &str) -> Option<f64> {
        if from == to {
            return Some(value);
        }
        let unit = self.units.iter().find(|unit| unit.from == from && unit.to == to)?;
        // More than a hundredth of its unit no instrument gives.
        Some((value * unit.factor * 100.0).round() / 100.0)
    }

    /// Every system is known, every key is one of the record, every row says what it needs and where it comes from.
    fn check(&self) -> Result<(), LoadError> {
        let tables = [
            (CODES, &self.codes),
            (MEASURES, &self.measures),
            (MEDICINES, &self.medicines),
            (EYES, &self.eyes),
            (ROUTES, &self.routes),
        ];
        let keys = form::describe::<Record>().keys;
        let is_key = |key: &str| keys.iter().any(|known| known.pointer == key);
        for (file, row) in tables.into_iter().flat_map(|(file, rows)| rows.iter().map(move |row| (file, row))) {
            let wrong = |what: String| Err(Problem::new(Kind::Value, what).of(&row.code).in_file(file));
            if !self.systems.values().any(|name| *name == row.system) {
                return wrong(format!("{SYSTEMS} has no system {}", row.system));
            }
            if row.source.is_empty() || row.says.is_empty() || !has_what_it_needs(file, row) {
                return wrong(format!("{} lacks what the head of the file asks for", row.code));
            }
            let named = row.set.iter().map(|set| &set.key).chain(&row.key);
            if let Some(key) = named.into_iter().find(|key| !is_key(key)) {
                return wrong(format!("the record has no key {key}"));
            }
        }
        match self.units.iter().find(|unit| unit.source.is_empty()) {
            Some(unit) => Err(Problem::new(Kind::Value, "it does not say where its factor was read")
                .of(&unit.from)
                .in_file(UNITS)),
            None => Ok(()),
        }
    }
}

fn has_what_it_needs(file: &str, row: &Row) -> bool {
    match file {
        CODES => !row.of.is_empty() && (!row.set.is_empty() || row.denies.is_some()),
        MEASURES => row.key.is_some(),
        MEDICINES => row.name.is_some(),
        EYES => row.eye.is_some(),
        _ => row.into_eye.is_some(),
    }
}

fn systems(assets: &Assets) -> Result<BTreeMap<String, String>, LoadError> {
    let mut systems = BTreeMap::new();
    for (path, text) in assets.layers(SYSTEMS) {
        let layer: BTreeMap<String, Vec<String>> = layers::table(&text).map_err(|problem| problem.in_file(&path))?;
        for (name, addresses) in layer {
            systems.extend(addresses.into_iter().map(|address| (address, name.clone())));
        }
    }
    Ok(systems)
}

fn rows(assets: &Assets, path: &str, table: &str) -> Result<Vec<Row>, LoadError> {
    let id = |row: &Row| format!("{} {}", row.system, row.code);
    layers::read(assets, path, id, |text| tables_of(text, table), |_, _| Ok(()))
}

fn units(assets: &Assets) -> Result<Vec<Unit>, LoadError> {
    let id = |unit: &Unit| format!("{} {}", unit.from, unit.to);
    layers::read(assets, UNITS, id, |text| tables_of(text, "unit"), |_, _| Ok(()))
}

fn tables_of<T: DeserializeOwned>(text: &str, table: &str) -> Result<Vec<T>, Problem> {
    let mut tables: BTreeMap<String, Vec<T>> = layers::table(text)?;
    let rows = tables.remove(table).unwrap_or_default();
    match tables.into_keys().next() {
        Some(other) => Err(Problem::new(Kind::Value, format!("[[{other}]] does not belong here: write [[{table}]]"))),
        None => Ok(rows),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn own(path: &str, text: &str) -> Result<Tables, LoadError> {
        Tables::load(&Assets::new([(path.to_owned(), text.to_owned())].into()))
    }

    fn loinc(code: &str) -> [Coding; 1] {
        [Coding { system: "http://loinc.org".into(), code: code.into(), display: None }]
    }

    #[test]
    fn the_tables_of_the_program_are_sound() {
        let tables = Tables::load(&Assets::default()).unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(tables.measure(&loinc("79892-6")).unwrap().0.eye, Some(Eyes::Right));
        assert_eq!(tables.convert(2.0, "kPa", "mm[Hg]"), Some(15.0));
        assert_eq!(tables.convert(2.0, "[psi]", "mm[Hg]"), None);
    }

    #[test]
    fn a_practice_adds_rows_and_a_wrong_one_is_refused() {
        let row = "system = \"loinc\"\ncode = \"1-8\"\nsays = \"x\"\nsource = \"ours\"\nmark = \"memory\"\n";
        let good = format!("[[measure]]\n{row}key = \"/eye/pressure_mmhg\"\nunit = \"mm[Hg]\"\n");
        assert!(own(MEASURES, &good).unwrap().measure(&loinc("1-8")).is_some());
        for wrong in [
            format!("[[measure]]\n{row}"),
            format!("[[measure]]\n{row}key = \"/eye/colour\"\n"),
            format!("[[measure]]\n{row}key = \"/eye/acuity\"\ncolour = 1\n"),
            format!("[[measures]]\n{row}key = \"/eye/acuity\"\n"),
            good.replace("loinc", "local"),
            good.replace("ours", ""),
        ] {
            assert!(own(MEASURES, &wrong).is_err(), "{wrong}");
        }
    }
}
