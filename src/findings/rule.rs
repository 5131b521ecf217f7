//! General rules: `templates/findings.toml`.

use serde::Deserialize;

use super::drug::{DrugRule, Words};
use super::{Finding, Level};
use crate::assets::{Assets, layers};
use crate::facts::condition::Condition;
use crate::facts::{Facts, Moment};

/// One row of `templates/findings.toml`, its condition checked.
#[derive(Debug, Clone)]
pub struct Rule {
    /// The row.
    pub row: Row,
    /// Its condition.
    pub when: Condition,
}

/// A row as written.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Stable id.
    pub id: String,
    /// Level.
    pub level: Level,
    /// Condition over the facts.
    pub when: String,
    /// Short title.
    pub title: String,
    /// Text for the surgeon.
    pub says: String,
    /// What to do next.
    #[serde(rename = "do")]
    pub next_step: String,
    /// What it rests on: a source, or "common practice, no source".
    pub basis: String,
    /// When it counts.
    #[serde(default)]
    pub moment: When,
    /// The usual drops may be wrong for this eye.
    #[serde(default)]
    pub drop_plan: bool,
}

/// When a rule counts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum When {
    /// Before the treatment only.
    Before,
    /// Before and after.
    #[default]
    Both,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    finding: Vec<Row>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DrugFile {
    #[serde(default)]
    rule: Vec<super::drug::Row>,
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
    let rule = |row: Row| {
        let when = Condition::parse(&row.when).map_err(|error| format!("finding {}: {error}", row.id))?;
        Ok(Rule { row, when })
    };
    file.finding.into_iter().map(rule).collect()
}

fn parse_drugs(text: &str) -> Result<Vec<DrugRule>, String> {
    let file: DrugFile = toml::from_str(text).map_err(|error| error.to_string())?;
    let rule = |row: super::drug::Row| {
        let id = row.id.clone();
        DrugRule::check(row).map_err(|error| format!("rule {id}: {error}"))
    };
    file.rule.into_iter().map(rule).collect()
}

impl Rule {
    /// The finding, if the rule counts at this moment and its condition holds.
    #[must_use]
    pub fn apply(&self, facts: &Facts, moment: Moment) -> Option<Finding> {
        let counts = self.row.moment == When::Both || moment == Moment::Before;
        (counts && self.when.holds(facts)).then(|| Finding {
            id: self.row.id.clone(),
            level: self.row.level,
            title: self.row.title.clone(),
            says: self.row.says.clone(),
            next_step: self.row.next_step.clone(),
            basis: self.row.basis.clone(),
            drops: self.row.drop_plan,
            ..Finding::default()
        })
    }
}
