//! Every drug rule and every finding has cases that a surgeon can read: `rules/<id>.toml`.
//!
//! ```toml
//! [[hit]]                             # has to fire
//! drug = "timolol"                    # drug rules only: the planned drug, taken home
//! with = ["loteprednol_0_5"]          # other drugs of the plan
//! uses = ["travoprost"]               # drops and medicines in use; without `drug` the rule is to speak of these
//! unrecorded = ["eye_drops"]          # lists that were not recorded
//! per_day = 4                         # doses a day, 1 when left out
//! days = 10                           # length of the course, 1 when left out
//! labels = "us"                       # us, eu_uk or stricter (when left out)
//! facts = { asthma = "yes" }          # what differs from the quiet eye of rules/base.toml
//! level = "stop"                      # the level it has to fire at
//!
//! [[miss]]                            # just must not fire
//! drug = "dorzolamide"
//! facts = { asthma = "yes" }
//! ```

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::PathBuf;
use std::sync::{Arc, LazyLock};

use serde::Deserialize;
use vitreoleaf::assets::Assets;
use vitreoleaf::content::fill::Filler;
use vitreoleaf::content::locale::Locale;
use vitreoleaf::content::texts::Texts;
use vitreoleaf::facts::drops::{Course, InUse, Used};
use vitreoleaf::facts::{self, Moment, Value};
use vitreoleaf::findings::{Findings, Given, Planned, Rules};
use vitreoleaf::record::formulary::{Drug, Formulary, Preservative, Selector};
use vitreoleaf::record::profile::Labels;

const FORMULARY: &str = include_str!("../templates/formulary.toml");
const DRUG_RULES: &str = include_str!("../templates/drug-rules.toml");
const FINDINGS: &str = include_str!("../templates/findings.toml");
const BASE: &str = include_str!("rules/base.toml");

/// The built-in files, each read once.
static RULES: LazyLock<Rules> = LazyLock::new(|| Rules::load(&Assets::default()).expect("the rules load"));
static STOCK: LazyLock<Formulary> = LazyLock::new(|| Formulary::load(&Assets::default()).expect("the formulary loads"));
static TEXTS: LazyLock<Arc<Texts>> = LazyLock::new(|| {
    let locale = Arc::new(Locale::load(&Assets::default(), "en-US").expect("the words load"));
    Arc::new(Texts::of(&locale, &Arc::default(), &Arc::default()))
});

type Facts = BTreeMap<String, String>;

/// What is planned and in use beside the facts.
#[derive(Debug, Clone, Default)]
struct Plan<'a> {
    drug: Option<&'a str>,
    with: &'a [String],
    uses: &'a [String],
    unrecorded: &'a [String],
    per_day: Option<u32>,
    days: Option<u32>,
}

impl Plan<'_> {
    /// The id of the finding about this plan.
    fn finding(&self, id: &str) -> String {
        match (self.drug, self.uses) {
            (Some(drug), _) => format!("{id}-{drug}"),
            (None, [used, ..]) => format!("{id}-in-use-{used}"),
            (None, []) => id.to_owned(),
        }
    }
}

/// All findings about a plan. `values` holds the numbers and lists that the text of a finding uses.
fn findings_of(plan: &Plan, labels: Labels, facts: &Facts, values: &toml::Table) -> (Findings, facts::Facts) {
    let words = facts.iter().map(|(name, word)| (name.clone(), Value::Choice(word.clone())));
    let known = facts::Facts::given(&words.chain(values.iter().map(value)).collect());
    let course = |key: &str| Course {
        drug: STOCK.get(key).expect("a drug"),
        per_day: plan.per_day.unwrap_or(1),
        days: plan.days.unwrap_or(1),
    };
    let home: Vec<Course> = plan.drug.into_iter().chain(plan.with.iter().map(String::as_str)).map(course).collect();
    let mut in_use = InUse::default();
    for entry in plan.uses {
        let reading = STOCK.read(entry);
        assert!(!reading.unread, "{entry} names nothing known");
        let (groups, keys) = (reading.groups.into_iter().collect(), reading.drugs.into_iter().collect());
        in_use.drops.push(Used { entry: entry.clone(), unread: false, groups, keys });
    }
    let lists = ["eye_drops", "medicines"];
    in_use.unrecorded.extend(lists.into_iter().filter(|list| plan.unrecorded.iter().any(|name| name == list)));
    let moment = if facts["moment"] == "after" { Moment::After } else { Moment::Before };
    let drugs = Planned { home: &home, clinic: &[], in_use: &in_use, stock: &STOCK };
    (Findings::evaluate(&RULES, &known, drugs, labels, moment, Given::default()), known)
}

/// The level at which the drug rule or finding `id` fires on these facts, or `None`; a text that cannot be filled is a
/// failure too.
fn evaluate(id: &str, plan: &Plan, labels: Labels, facts: &Facts, values: &toml::Table) -> Option<String> {
    let (findings, known) = findings_of(plan, labels, facts, values);
    let wanted = plan.finding(id);
    let finding = findings.0.iter().find(|finding| finding.id.trim_end_matches("-unrecorded") == wanted)?;
    let filler = Filler::new(&TEXTS, &known).expect("the facts can be written");
    filler.text(&finding.id, &finding.title).expect("the title can be filled");
    filler.text(&finding.id, &finding.says).expect("the text can be filled");
    Some(finding.level.word().to_owned())
}

/// A number or a list that the text of a finding may use.
fn value((name, value): (&String, &toml::Value)) -> (String, Value) {
    let value = match value {
        toml::Value::Integer(number) => Value::Number(*number as f64),
        toml::Value::Float(number) => Value::Number(*number),
        toml::Value::Array(items) => Value::List(
            items.iter().map(|item| item.as_str().map_or_else(|| item.to_string(), str::to_owned)).collect(),
        ),
        toml::Value::String(text) => Value::Text(text.clone()),
        other => Value::Text(other.to_string()),
    };
    (name.clone(), value)
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Base {
    facts: Facts,
    values: toml::Table,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Cases {
    #[serde(default)]
    hit: Vec<Case>,
    #[serde(default)]
    miss: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    drug: Option<String>,
    #[serde(default)]
    with: Vec<String>,
    #[serde(default)]
    uses: Vec<String>,
    #[serde(default)]
    unrecorded: Vec<String>,
    per_day: Option<u32>,
    days: Option<u32>,
    labels: Option<Labels>,
    #[serde(default)]
    facts: Facts,
    level: Option<String>,
}

impl Case {
    fn fires(&self, id: &str, base: &Base) -> Option<String> {
        let mut facts = base.facts.clone();
        facts.extend(self.facts.clone());
        evaluate(id, &self.plan(), self.labels.unwrap_or(Labels::Stricter), &facts, &base.values)
    }

    fn plan(&self) -> Plan<'_> {
        Plan {
            drug: self.drug.as_deref(),
            with: &self.with,
            uses: &self.uses,
            unrecorded: &self.unrecorded,
            per_day: self.per_day,
            days: self.days,
        }
    }
}

fn base() -> Base {
    toml::from_str(BASE).expect("rules/base.toml")
}

fn formulary() -> Formulary {
    Formulary::parse(FORMULARY).expect("templates/formulary.toml")
}

/// The tables `[[name]]` of a file.
fn tables(text: &str, name: &str) -> Vec<toml::Table> {
    let mut all: toml::Table = toml::from_str(text).expect("a table");
    all.remove(name).expect("tables of that name").try_into().expect("a list of tables")
}

fn text<'a>(table: &'a toml::Table, key: &str) -> &'a str {
    table.get(key).and_then(toml::Value::as_str).unwrap_or_else(|| panic!("{key} is missing in {table}"))
}

fn rules() -> Vec<toml::Table> {
    tables(DRUG_RULES, "rule")
}

fn findings() -> Vec<toml::Table> {
    tables(FINDINGS, "finding")
}

/// Every id, and whether it is a drug rule.
fn ids() -> Vec<(String, bool)> {
    let id = |table: &toml::Table| text(table, "id").to_owned();
    let rules = rules().iter().map(id).map(|id| (id, true)).collect::<Vec<_>>();
    rules.into_iter().chain(findings().iter().map(id).map(|id| (id, false))).collect()
}

/// The case files by id.
fn cases() -> BTreeMap<String, Cases> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/rules");
    let files = fs::read_dir(folder).expect("tests/rules").map(|entry| entry.expect("an entry").path());
    files
        .filter(|path| path.extension().is_some_and(|end| end == "toml") && !path.ends_with("base.toml"))
        .map(|path| {
            let id = path.file_stem().and_then(|stem| stem.to_str()).expect("a readable name").to_owned();
            let cases =
                toml::from_str(&fs::read_to_string(&path).expect(&id)).unwrap_or_else(|error| panic!("{id}: {error}"));
            (id, cases)
        })
        .collect()
}

fn selectors(rule: &toml::Table) -> Vec<Selector> {
    let drugs = rule.get("drugs").and_then(toml::Value::as_array).expect("drugs");
    drugs.iter().map(|drug| drug.as_str().expect("a text").parse().expect("a selector")).collect()
}

#[test]
fn every_rule_and_finding_has_a_hit_and_a_miss() {
    let ids = ids();
    let mut cases = cases();
    let unique: BTreeSet<_> = ids.iter().map(|(id, _)| id).collect();
    assert_eq!(unique.len(), ids.len(), "an id is used twice");
    for (id, _) in &ids {
        let cases = cases.remove(id).unwrap_or_else(|| panic!("write tests/rules/{id}.toml"));
        assert!(!cases.hit.is_empty() && !cases.miss.is_empty(), "{id} needs a [[hit]] and a [[miss]]");
    }
    assert!(cases.is_empty(), "no rule or finding has the id {:?}", cases.keys());
}

#[test]
fn every_case_is_well_formed() {
    let (base, formulary, cases) = (base(), formulary(), cases());
    for (id, is_drug_rule) in ids() {
        let Cases { hit, miss } = &cases[&id];
        assert!(hit.iter().all(|case| case.level.is_some()), "{id}: a hit says its level");
        assert!(miss.iter().all(|case| case.level.is_none()), "{id}: a miss has no level");
        for case in hit.iter().chain(miss) {
            let of_drugs = case.drug.is_some() || !case.uses.is_empty();
            assert_eq!(of_drugs, is_drug_rule, "{id}: a drug rule names a drug, a finding none");
            assert!(case.drug.as_ref().is_none_or(|key| formulary.get(key).is_some()), "{id}: {:?}", case.drug);
            assert!(case.facts.keys().all(|fact| base.facts.contains_key(fact)), "{id}: {:?}", case.facts);
        }
    }
}

#[test]
fn every_case_comes_out_as_written() {
    let base = base();
    let mut wrong = Vec::new();
    for (id, Cases { hit, miss }) in cases() {
        for (place, case) in hit.iter().enumerate().chain(miss.iter().enumerate()) {
            let fired = case.fires(&id, &base);
            if fired != case.level {
                let kind = if case.level.is_some() { "hit" } else { "miss" };
                let place = place + 1;
                wrong.push(format!("{id}, {kind} {place}: expected {:?}, got {fired:?}", case.level));
            }
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// The quiet eye has an open capsule, of which the labels of prostaglandins warn.
const OF_THE_QUIET_EYE: &str = "R72";

#[test]
fn nothing_fires_on_the_quiet_eye() {
    let (base, formulary) = (base(), formulary());
    let always =
        rules().into_iter().filter(|rule| rule.contains_key("always")).map(|rule| text(&rule, "id").to_owned());
    let always: Vec<String> = always.chain([OF_THE_QUIET_EYE.to_owned()]).collect();
    let fired = |drug: Option<&str>| {
        let plan = Plan { drug, ..Plan::default() };
        findings_of(&plan, Labels::Stricter, &base.facts, &base.values).0
    };
    assert!(fired(None).0.is_empty(), "{:?}", fired(None));
    for drug in formulary.drugs() {
        let of_always = |id: &str| always.iter().any(|rule| id == format!("{rule}-{}", drug.key));
        let found = fired(Some(&drug.key)).0;
        let loud: Vec<_> = found.iter().filter(|finding| !of_always(&finding.id)).map(|finding| &finding.id).collect();
        assert!(loud.is_empty(), "{}: {loud:?}", drug.key);
    }
}

#[test]
fn every_rule_speaks_of_drugs_that_exist() {
    let formulary = formulary();
    for rule in rules() {
        for selector in selectors(&rule) {
            assert!(formulary.select(&selector).next().is_some(), "{}: {selector} names no drug", text(&rule, "id"));
        }
    }
}

/// A new product that may hold benzalkonium cannot slip past the allergy rule by belonging to a group it does not name.
#[test]
fn the_benzalkonium_rule_covers_every_product_that_may_hold_it() {
    let rules = rules();
    let rule = rules.iter().find(|rule| text(rule, "id") == "R28").expect("R28");
    let selectors = selectors(rule);
    for drug in formulary().drugs().filter(|drug| drug.may_hold(Preservative::Benzalkonium)) {
        assert!(selectors.iter().any(|selector| selector.covers(drug)), "R28 leaves out {}", drug.key);
    }
}

/// Substances whose labels differ by strength: UK product information (MHRA) of phenylephrine 2.5% and 10%, and of
/// apraclonidine 0.5% and 1% (both seen in part).
const STRENGTHS_DIFFER: &[&str] = &["apraclonidine", "phenylephrine"];

/// A rule about a substance covers all its strengths and its preservative-free form: R17a and R17b count as R17.
#[test]
fn products_of_one_substance_have_the_same_rules() {
    let (formulary, rules) = (formulary(), rules());
    let numbers = |drug: &Drug| -> BTreeSet<String> {
        let covers = |rule: &&toml::Table| selectors(rule).iter().any(|selector| selector.covers(drug));
        let number = |rule: &toml::Table| text(rule, "id").trim_end_matches(char::is_alphabetic).to_owned();
        rules.iter().filter(covers).map(number).collect()
    };
    let mut by_name: BTreeMap<(&str, &str), (&str, BTreeSet<String>)> = BTreeMap::new();
    for drug in formulary.drugs() {
        let strength = if STRENGTHS_DIFFER.contains(&drug.name.as_str()) { &drug.strength } else { "" };
        let (first, expected) = by_name.entry((&drug.name, strength)).or_insert_with(|| (&drug.key, numbers(drug)));
        assert_eq!(numbers(drug), *expected, "{} and {first}", drug.key);
    }
}

/// Where a drug is withheld, the finding names those of the same purpose to which no rule objects, and no other.
///
/// Not one that the same fact forbids, that an allergy names, that is planned already or meant for the clinic.
#[test]
fn a_withheld_drug_names_what_no_rule_objects_to() {
    let base = base();
    let named = |changes: &[(&str, &str)], with: &[String], allergies: &[&str]| {
        let (mut facts, mut values) = (base.facts.clone(), base.values.clone());
        facts.extend(changes.iter().map(|(fact, word)| ((*fact).to_owned(), (*word).to_owned())));
        let allergies = allergies.iter().map(|name| toml::Value::String((*name).to_owned())).collect();
        values.insert("allergies".to_owned(), toml::Value::Array(allergies));
        let plan = Plan { drug: Some("dorzolamide_timolol"), with, ..Plan::default() };
        let (findings, _) = findings_of(&plan, Labels::Stricter, &facts, &values);
        let finding =
            findings.0.into_iter().find(|finding| finding.level.withholds()).expect("a finding that withholds");
        finding.alternatives.join("; ")
    };
    let asthma = named(&[("asthma", "yes")], &[], &[]);
    for drug in ["dorzolamide", "brinzolamide", "brimonidine"] {
        assert!(asthma.contains(&format!("[{drug}]")), "{drug}: {asthma}");
    }
    for drug in ["timolol", "dorzolamide_timolol_pf", "latanoprost", "apraclonidine_1", "acetazolamide_oral"] {
        assert!(!asthma.contains(&format!("[{drug}]")), "{drug}: {asthma}");
    }
    let sulfonamide = named(&[("asthma", "yes"), ("sulfonamide_reaction", "severe")], &[], &[]);
    assert!(sulfonamide.contains("[brimonidine]") && !sulfonamide.contains("zolamide"), "{sulfonamide}");
    assert!(!named(&[("asthma", "yes")], &[], &["Brimonidine drops"]).contains("brimonidine"));
    let planned = named(&[("asthma", "yes")], &["dorzolamide".to_owned()], &[]);
    assert!(!planned.contains("[dorzolamide]"), "{planned}");
    let nothing = [("asthma", "yes"), ("kidney_disease", "severe"), ("maoi", "yes")];
    assert_eq!(named(&nothing, &[], &[]), "");
}

/// Texts hold only values that the case files know; whether a condition makes a value certain shows when a hit is filled.
#[test]
fn every_text_uses_known_values() {
    let (base, environment) = (base(), minijinja::Environment::new());
    for finding in findings() {
        let template = environment.template_from_str(text(&finding, "says")).expect("a template");
        let undeclared: BTreeSet<String> = template.undeclared_variables(true).into_iter().collect();
        for name in undeclared {
            let known = base.values.contains_key(&name) || base.facts.contains_key(&name);
            assert!(known, "{}: {name} is no value", text(&finding, "id"));
        }
    }
}
