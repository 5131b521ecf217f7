//! All rules of a practice: `templates/findings.toml` and `templates/drug-rules.toml`.

use serde::Deserialize;

use super::drug::{self, DrugRule};
use super::rule::{self, Rule};
use crate::assets::{Assets, layers};
use crate::facts::condition::Condition;

/// What is said of a drug the rules do not cover, or of an entry that names nothing known.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Words {
    /// Text for the surgeon.
    pub says: String,
    /// What it rests on.
    pub basis: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    finding: Vec<rule::Row>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DrugFile {
    #[serde(default)]
    rule: Vec<drug::Row>,
    #[serde(default)]
    unreviewed: Option<Words>,
    #[serde(default)]
    unread: Option<Words>,
}

/// All rules, checked.
#[derive(Debug, Clone, Default)]
pub struct Rules {
    /// Rules of the eye and the plan.
    pub general: Vec<Rule>,
    /// Rules of the drops.
    pub drugs: Vec<DrugRule>,
    /// What is said of a drug the rules do not cover.
    pub unreviewed: Words,
    /// What is said of a medicine or drop in use whose name is not known.
    pub unread: Words,
}

impl Rules {
    /// Reads both files; rows of the practice's own folder replace those with the same id.
    ///
    /// # Errors
    /// A sentence that names the file, the row and what is wrong.
    pub fn load(assets: &Assets) -> Result<Self, String> {
        let general = layers::read(assets, FINDINGS, |rule: &Rule| rule.row.id.clone(), parse, |_, _| Ok(()))?;
        let drugs = layers::read(assets, DRUGS, |rule: &DrugRule| rule.row.id.clone(), parse_drugs, |_, _| Ok(()))?;
        let (mut unreviewed, mut unread) = (None, None);
        for (path, text) in assets.layers(DRUGS) {
            let file: DrugFile = toml::from_str(&text).map_err(|error| format!("{path}: {error}"))?;
            unreviewed = file.unreviewed.or(unreviewed);
            unread = file.unread.or(unread);
        }
        let unreviewed = unreviewed.ok_or_else(|| format!("{DRUGS}: [unreviewed] is missing"))?;
        let unread = unread.ok_or_else(|| format!("{DRUGS}: [unread] is missing"))?;
        Ok(Self { general, drugs, unreviewed, unread })
    }
}

const FINDINGS: &str = "templates/findings.toml";
const DRUGS: &str = "templates/drug-rules.toml";

fn parse(text: &str) -> Result<Vec<Rule>, String> {
    let file: File = toml::from_str(text).map_err(|error| error.to_string())?;
    let rule = |row: rule::Row| {
        let when = Condition::parse(&row.when).map_err(|error| format!("finding {}: {error}", row.id))?;
        Ok(Rule { row, when })
    };
    file.finding.into_iter().map(rule).collect()
}

fn parse_drugs(text: &str) -> Result<Vec<DrugRule>, String> {
    let file: DrugFile = toml::from_str(text).map_err(|error| error.to_string())?;
    let rule = |row: drug::Row| {
        let id = row.id.clone();
        DrugRule::check(row).map_err(|error| format!("rule {id}: {error}"))
    };
    file.rule.into_iter().map(rule).collect()
}
