//! All rules of a practice: `templates/findings.toml` and `templates/drug-rules.toml`.

use serde::Deserialize;
use toml::Spanned;

use super::drug::{self, DrugRule};
use super::rule::{self, Rule};
use crate::assets::{Assets, Kind, LoadError, Problem, layers};
use crate::facts::condition::Condition;
use crate::record::formulary::Drug;

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
    finding: Vec<Spanned<rule::Row>>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct DrugFile {
    #[serde(default)]
    rule: Vec<Spanned<drug::Row>>,
    #[serde(default)]
    unreviewed: Option<Words>,
    #[serde(default)]
    unread: Option<Words>,
    #[serde(default)]
    doubled: Option<Words>,
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
    /// What is said of a drop in use that holds a substance of the plan.
    pub doubled: Words,
}

impl Rules {
    /// Reads both files; rows of the practice's own folder replace those with the same id.
    ///
    /// # Errors
    /// A sentence that names the file, the row and what is wrong.
    pub fn load(assets: &Assets) -> Result<Self, LoadError> {
        let general = layers::read(assets, FINDINGS, |rule: &Rule| rule.row.id.clone(), parse, |_, _| Ok(()))?;
        let drugs = layers::read(assets, DRUGS, |rule: &DrugRule| rule.row.id.clone(), parse_drugs, |_, _| Ok(()))?;
        let (mut unreviewed, mut unread, mut doubled) = (None, None, None);
        for (path, text) in assets.layers(DRUGS) {
            let file: DrugFile = layers::table(&text).map_err(|problem| problem.in_file(&path))?;
            unreviewed = file.unreviewed.or(unreviewed);
            unread = file.unread.or(unread);
            doubled = file.doubled.or(doubled);
        }
        let missing = |table: &str| Problem::new(Kind::Missing, format!("[{table}] is missing")).in_file(DRUGS);
        let unreviewed = unreviewed.ok_or_else(|| missing("unreviewed"))?;
        let unread = unread.ok_or_else(|| missing("unread"))?;
        let doubled = doubled.ok_or_else(|| missing("doubled"))?;
        Ok(Self { general, drugs, unreviewed, unread, doubled })
    }

    /// Whether an id is one under which these rules can raise a finding of these drugs. Ids that hold words of a record, as
    /// those of medicines in use, do not count.
    pub fn can_raise<'d>(&self, id: &str, mut drugs: impl Iterator<Item = &'d Drug>) -> bool {
        let of_drug = |rule: &DrugRule| id.strip_prefix(rule.row.id.as_str())?.strip_prefix('-');
        let rests = || self.drugs.iter().filter_map(of_drug);
        self.general.iter().any(|rule| rule.row.id == id)
            || drugs.any(|drug| rests().any(|rest| rest.strip_suffix("-unrecorded").unwrap_or(rest) == drug.key))
    }
}

const FINDINGS: &str = "templates/findings.toml";
const DRUGS: &str = "templates/drug-rules.toml";

fn parse(text: &str) -> Result<Vec<Rule>, Problem> {
    let file: File = layers::table(text)?;
    let rule = |row: Spanned<rule::Row>| {
        let span = row.span();
        let row = row.into_inner();
        let when = Condition::parse(&row.when).map_err(|error| {
            Problem::new(error.kind(), format!("finding {}: {error}", row.id)).of(&row.id).at(text, &span)
        })?;
        let id = row.id.clone();
        Rule::new(row, when).ok_or_else(|| {
            let what = format!("finding {id}: a text is no template: look for braces that are not closed");
            Problem::new(Kind::Value, what).of(&id).at(text, &span)
        })
    };
    file.finding.into_iter().map(rule).collect()
}

fn parse_drugs(text: &str) -> Result<Vec<DrugRule>, Problem> {
    let file: DrugFile = layers::table(text)?;
    let rule = |row: Spanned<drug::Row>| {
        let span = row.span();
        DrugRule::check(row.into_inner()).map_err(|problem| problem.at(text, &span))
    };
    file.rule.into_iter().map(rule).collect()
}
