//! What a record lets be found, what is missing in it, and what is open for whom.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::Value;

use crate::content::Content;
use crate::content::markdown::plain;
use crate::diag::emit::Item;
use crate::document::Page;
use crate::facts::{Definition, MASK, Moment, definitions, is_private};
use crate::findings::{Changed, Finding, Level, Unsettled, idle_answers};
use crate::packet::assessment::{Assessment, Gap, known_by};
use crate::packet::version::Version;
use crate::packet::{Case, CaseError, RefusedPage, Withholding};
use crate::practice::Draft;
use crate::record::form::KnownBy;
use crate::record::locate;

/// What became of one record in a check.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Checked {
    /// It was read; it may lack required keys.
    Read(Box<Check>),
    /// It contradicts itself, or is not as it must be.
    Refused {
        /// Version of this format.
        version: Version<1>,
        /// Everything that is wrong with it.
        refused: Vec<Item>,
    },
    /// The file cannot be read, or a text of the practice is missing.
    Failed {
        /// Version of this format.
        version: Version<1>,
        /// Why.
        error: String,
    },
}

/// What was found in a record, complete or not.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Check {
    /// Version of this format.
    pub version: Version<1>,
    /// Code of the case; null while it is missing.
    pub case: Option<String>,
    /// Before or after the treatment.
    pub moment: Moment,
    /// Whether anything can be printed: nothing is missing and the plan can be kept.
    pub prints: bool,
    /// Why nothing can be printed, if something else than a missing key stands against it.
    pub refusal: Option<Refusal>,
    /// Why the patient's pages (before) or the drop plan (after) are withheld, if they are.
    pub withheld: Option<Withholding>,
    /// The page sets that are not printed as they should be, if it was asked, and what is printed instead.
    pub refused_pages: Vec<RefusedPage>,
    /// The findings, heaviest first.
    pub findings: Vec<Found>,
    /// Findings that may yet come, because they hang on what is missing.
    pub undecided: Vec<MayCome>,
    /// Answers to findings that are not raised: by id, or by their place, such as `answers.0`, where no finding has the id
    /// and values are not shown.
    pub idle_answers: Vec<String>,
    /// What is open, by who must act.
    pub open: Open,
    /// Who may answer findings.
    pub clinicians: Vec<String>,
    /// What a person should look at in the file, although it holds nothing back.
    pub warnings: Vec<Item>,
}

/// A stage that refuses.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Refusal {
    /// JSON pointer of the place in the record where it can be mended, if it lies in one place.
    pub pointer: Option<String>,
    /// Why, and what to change.
    pub says: String,
}

/// A finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Found {
    /// Id; an answer in the record names it.
    pub id: String,
    /// How much it weighs.
    pub level: Level,
    /// A few words for it.
    pub title: String,
    /// What it says.
    pub says: String,
    /// Key of the planned drug it speaks of, if it is about the drops.
    pub drug: Option<String>,
    /// Facts that were not recorded and on which it hangs.
    pub unrecorded: Vec<String>,
    /// Drugs that could take the place of the one withheld: no rule objects to them, for what was recorded.
    pub alternatives: Vec<String>,
    /// Who gave the answer that settles it; null: nobody.
    pub answered_by: Option<String>,
    /// Why an answer in the record does not settle it, if there is one that does not.
    pub unsettled: Option<String>,
    /// Whether an answer can settle it; else only other values do.
    pub answerable: bool,
    /// The values it follows from, as an answer has to name them (`fingerprint`).
    pub fingerprint: String,
    /// The same values in words, for the answer to carry (`values`).
    pub values: Vec<String>,
    /// Whether it waits for an answer.
    pub open: bool,
    /// Who can settle it.
    pub who: KnownBy,
    /// The keys of the record it rests on; where some of them were not recorded, those.
    pub keys: Vec<Place>,
    /// Whether the keys are those that were not recorded: writing them settles it too.
    pub keys_unrecorded: bool,
}

/// A finding that hangs on what is missing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct MayCome {
    /// Id of the finding.
    pub id: String,
    /// The level it would have.
    pub level: Level,
    /// The missing keys it hangs on.
    pub keys: Vec<Place>,
}

/// A key of the record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Place {
    /// JSON pointer.
    pub pointer: String,
    /// The table it stands in, as TOML writes it; empty at the top of the file.
    pub table: String,
    /// The key.
    pub key: String,
}

/// What is open, by who must act.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Open {
    /// For the front desk.
    pub desk: Vec<Task>,
    /// For the nurse or technician.
    pub nurse: Vec<Task>,
    /// For the surgeon.
    pub surgeon: Vec<Task>,
}

/// One thing to do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Task {
    /// What is to be done.
    pub kind: TaskKind,
    /// Id of the finding it settles, if it is about one.
    pub finding: Option<String>,
    /// The keys of the record it is about.
    pub keys: Vec<Place>,
    /// The pages that wait for it.
    pub needed_for: Vec<Page>,
    /// The same in words.
    pub says: String,
}

/// What is to be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TaskKind {
    /// Write a required key.
    Fill,
    /// Write what was not recorded, or answer the finding.
    Record,
    /// Answer the finding by name, date and reason.
    Answer,
    /// Correct what stands there.
    Mend,
}

impl Open {
    /// What is open, each with its person, in the order in which a record goes through a practice.
    pub fn by_person(&self) -> impl Iterator<Item = (KnownBy, &[Task])> {
        let of = |who: KnownBy| match who {
            KnownBy::Desk => (who, &self.desk[..]),
            KnownBy::Nurse => (who, &self.nurse[..]),
            KnownBy::Surgeon => (who, &self.surgeon[..]),
        };
        KnownBy::ALL.into_iter().map(of)
    }

    fn add(&mut self, who: KnownBy, task: Task) {
        match who {
            KnownBy::Desk => self.desk.push(task),
            KnownBy::Nurse => self.nurse.push(task),
            KnownBy::Surgeon => self.surgeon.push(task),
        }
    }
}

impl Place {
    /// The key at a JSON pointer.
    #[must_use]
    pub fn of(pointer: &str) -> Self {
        let (table, key) = pointer.rsplit_once('/').unwrap_or(("", pointer));
        Self {
            pointer: pointer.to_owned(),
            table: table.trim_start_matches('/').replace('/', "."),
            key: key.to_owned(),
        }
    }

    /// Table and key as they are written.
    #[must_use]
    pub fn written(&self) -> String {
        if self.table.is_empty() { self.key.clone() } else { format!("{}.{}", self.table, self.key) }
    }
}

/// What is asked of a check.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asked {
    /// Before or after the treatment.
    pub moment: Moment,
    /// Whether the pages of a complete record are laid out.
    pub pages: bool,
    /// Whether whoever reads the answer may see who the patient is, and what the record holds in words.
    pub private: bool,
}

/// Checks a record as far as it goes.
///
/// # Errors
/// A text of the practice that is missing.
pub fn check(draft: &Draft, asked: Asked) -> Result<Check, CaseError> {
    let Asked { moment, pages, private } = asked;
    let assessment = Assessment::of_draft(draft, moment);
    let gaps = gaps(draft, &assessment);
    let record = serde_json::to_value(assessment.record())?;
    let Outcome { refusal, withheld, refused_pages } = outcome(draft, &assessment, pages)?;
    let findings = found(&assessment, &record, private)?;
    let mut open = Open::default();
    gaps.iter().for_each(|gap| open.add(gap.known_by, fill(gap)));
    if let Some(refusal) = &refusal {
        let who = refusal.pointer.as_deref().map_or(KnownBy::Surgeon, known_by);
        open.add(who, mend(refusal));
    }
    // What hangs on missing keys alone is settled with them.
    let filled = |finding: &Found| finding.keys.iter().all(|key| gaps.iter().any(|gap| gap.pointer == key.pointer));
    let waiting = findings.iter().filter(|finding| finding.open && (finding.keys.is_empty() || !filled(finding)));
    waiting.for_each(|finding| open.add(finding.who, settle(finding)));
    let undecided = assessment.undecided.iter().map(|finding| MayCome {
        id: finding.id.clone(),
        level: finding.level,
        keys: missing_among(&finding.facts, &assessment.gaps),
    });
    Ok(Check {
        version: Version,
        case: (!draft.lacks("/case/code")).then(|| assessment.record().case.code.clone()),
        moment,
        prints: gaps.is_empty() && refusal.is_none(),
        withheld,
        refused_pages,
        undecided: undecided.collect(),
        idle_answers: idle(&assessment, private),
        findings,
        open,
        clinicians: assessment.practice().profile.who_may_answer().into_iter().map(str::to_owned).collect(),
        refusal,
        warnings: draft.warnings().items(),
    })
}

/// Answers to findings that are not raised. What no finding is called may be a person who was written into the wrong line.
fn idle(assessment: &Assessment, private: bool) -> Vec<String> {
    let (answers, practice) = (&assessment.record().answers, assessment.practice());
    let named = |id: &str| {
        let known = private || practice.rules.can_raise(id, practice.formulary.drugs());
        let at = answers.iter().position(|answer| answer.finding == id).unwrap_or_default();
        if known { id.to_owned() } else { format!("answers.{at}") }
    };
    idle_answers(&assessment.findings, answers).into_iter().map(named).collect()
}

/// What is missing: nothing prints without it, also where it is for the pages of another moment.
fn gaps(draft: &Draft, assessment: &Assessment) -> Vec<Gap> {
    let mut gaps = assessment.gaps.clone();
    if assessment.moment() == Moment::Before {
        let after = Assessment::of_draft(draft, Moment::After).gaps;
        gaps.extend(
            after.into_iter().filter(|gap| draft.lacks(&gap.pointer) && locate::holds("/treatment", &gap.pointer)),
        );
    }
    gaps
}

/// Why nothing prints, why pages are withheld, and which ones the layout refuses.
#[derive(Default)]
struct Outcome {
    refusal: Option<Refusal>,
    withheld: Option<Withholding>,
    refused_pages: Vec<RefusedPage>,
}

impl Outcome {
    fn refused(error: &CaseError) -> Self {
        let refusal = Refusal { pointer: error.pointer().map(str::to_owned), says: error.to_string() };
        Self { refusal: Some(refusal), ..Self::default() }
    }
}

fn outcome(draft: &Draft, assessment: &Assessment, pages: bool) -> Result<Outcome, CaseError> {
    let Ok(record) = draft.clone().complete() else {
        // Of a plan that hangs on a missing key the gap speaks.
        let planned = assessment.is_complete().then(|| assessment.plan().err()).flatten();
        return Ok(planned.map_or_else(Outcome::default, |error| Outcome::refused(&error.into())));
    };
    match Case::new(&record, assessment.moment()) {
        Ok(case) => Ok(Outcome {
            refusal: None,
            withheld: case.withholding(),
            refused_pages: if pages { refused_pages(&case)? } else { Vec::new() },
        }),
        Err(CaseError::NotTreated) => Ok(Outcome::default()),
        Err(error) => Ok(Outcome::refused(&error)),
    }
}

#[cfg(feature = "typeset")]
fn refused_pages(case: &Case) -> Result<Vec<RefusedPage>, CaseError> {
    case.refused_pages()
}

/// Nothing is laid out without the typesetter.
#[cfg(not(feature = "typeset"))]
fn refused_pages(_: &Case) -> Result<Vec<RefusedPage>, CaseError> {
    Ok(Vec::new())
}

fn found(assessment: &Assessment, record: &Value, private: bool) -> Result<Vec<Found>, CaseError> {
    let practice = assessment.practice();
    let masked = (!private).then(|| assessment.facts.masked());
    let facts = masked.as_ref().unwrap_or(&assessment.facts);
    let content = Content::words(practice.library(practice.staff_language())?, facts)?;
    let one = |finding: &Finding| {
        let (who, keys, keys_unrecorded) = settled_by(finding, assessment, record);
        let text = |text: &str| content.template(&finding.id, text).map(|inlines| plain(&inlines));
        let title = if finding.typed && !private { MASK.to_owned() } else { text(&finding.title)? };
        let says = text(&finding.says)?;
        Ok(Found {
            id: finding.id.clone(),
            level: finding.level,
            says: if finding.typed { format!("{title}: {says}") } else { says },
            title,
            drug: finding.drug.clone(),
            unrecorded: finding.unrecorded.clone(),
            alternatives: finding.alternatives.clone(),
            answered_by: finding.settled_by().map(|answer| answer.by.clone()),
            unsettled: finding.unsettled.as_ref().map(|why| unsettled(why, private)),
            answerable: finding.level.withholds() && !finding.unanswerable,
            fingerprint: finding.fingerprint(),
            values: finding.values_in_words(private),
            open: finding.open(),
            who,
            keys,
            keys_unrecorded,
        })
    };
    assessment.findings.0.iter().map(one).collect()
}

/// Why an answer does not settle its finding, and what to do.
fn unsettled(why: &Unsettled, private: bool) -> String {
    match why {
        Unsettled::Unbound => "it does not say which values it answers: add the fingerprint printed here".into(),
        Unsettled::Changed(values) => {
            let values: Vec<String> = values.iter().map(|value| changed(value, private)).collect();
            format!("changed since it was given: {}; answer again", values.join(", "))
        }
        Unsettled::Ahead(date) => format!("it is dated {date}, a day that has not come"),
        Unsettled::Older(date) => format!("it is older than what it rests on, {date}; answer again"),
    }
}

/// A value as it was and as it is; who somebody is stays out unless it is wanted.
fn changed(Changed { name, before, now }: &Changed, private: bool) -> String {
    match before {
        _ if !private && is_private(name) => name.clone(),
        Some(before) => format!("{name} was {before} and is now {now}"),
        None => format!("{name} is now {now}"),
    }
}

/// Who can settle a finding, the keys it is about, and whether they were not recorded. What was not recorded is written down by who knows it; anything else
/// only the surgeon can answer.
fn settled_by(finding: &Finding, assessment: &Assessment, record: &Value) -> (KnownBy, Vec<Place>, bool) {
    let facts: Vec<_> = definitions().filter(|fact| finding.facts.iter().any(|name| name == fact.name)).collect();
    let word = |fact: &Definition| assessment.facts.word(fact.name);
    let unknown = facts.iter().filter(|fact| word(fact).is_some_and(|word| word == "unknown"));
    let unknown = unknown.flat_map(|fact| fact.keys()).flat_map(|key| unknown_within(record, key));
    let absent: Vec<&Definition> = facts.iter().copied().filter(|fact| word(fact).is_none()).collect();
    let missing = assessment.gaps.iter().filter(|gap| absent.iter().any(|fact| fact.hangs_on(&gap.pointer)));
    let open: Vec<String> = unknown.chain(missing.map(|gap| gap.pointer.clone())).collect();
    if let Some(first) = open.first() {
        return (known_by(first), places(open), true);
    }
    let keys = facts
        .iter()
        .flat_map(|fact| fact.keys())
        .filter(|key| record.pointer(key).is_some_and(|value| !value.is_null()));
    let done = |key: &&str| assessment.moment() == Moment::After || !locate::holds("/treatment", key);
    (KnownBy::Surgeon, places(keys.filter(done).map(str::to_owned).collect()), false)
}

fn places(mut pointers: Vec<String>) -> Vec<Place> {
    pointers.sort();
    pointers.dedup();
    pointers.iter().map(|pointer| Place::of(pointer)).collect()
}

/// The keys at a pointer, or within the table there, that say `unknown` or nothing.
fn unknown_within(record: &Value, pointer: &str) -> Vec<String> {
    match record.pointer(pointer) {
        Some(Value::Object(table)) => {
            table.keys().flat_map(|key| unknown_within(record, &locate::child(pointer, key))).collect()
        }
        Some(Value::String(word)) if word == "unknown" => vec![pointer.to_owned()],
        None | Some(Value::Null) if !locate::holds("/treatment", pointer) => vec![pointer.to_owned()],
        _ => Vec::new(),
    }
}

/// The missing keys that some facts hang on.
fn missing_among(facts: &[String], gaps: &[Gap]) -> Vec<Place> {
    let of: Vec<_> = definitions().filter(|fact| facts.iter().any(|name| name == fact.name)).collect();
    let missing = gaps.iter().filter(|gap| of.iter().any(|fact| fact.hangs_on(&gap.pointer)));
    missing.map(|gap| Place::of(&gap.pointer)).collect()
}

fn fill(gap: &Gap) -> Task {
    let place = Place::of(&gap.pointer);
    let pages: Vec<&str> = gap.needed_for.iter().map(|page| page.word()).collect();
    let help = match &gap.words[..] {
        [] => gap.help.split(". ").next().unwrap_or_default().trim_end_matches('.').to_owned(),
        [words @ .., last] => format!("{} or {last}", words.join(", ")),
    };
    let says = format!("write {} ({help}): needed for {}", place.written(), pages.join(", "));
    Task { kind: TaskKind::Fill, finding: None, keys: vec![place], needed_for: gap.needed_for.clone(), says }
}

fn mend(refusal: &Refusal) -> Task {
    let keys: Vec<Place> = refusal.pointer.iter().map(|pointer| Place::of(pointer)).collect();
    let says = match &keys[..] {
        [] => refusal.says.clone(),
        keys => format!("correct {}: {}", written(keys), refusal.says),
    };
    Task { kind: TaskKind::Mend, finding: None, keys, needed_for: Vec::new(), says }
}

fn settle(finding: &Found) -> Task {
    let (id, keys) = (&finding.id, written(&finding.keys));
    let (kind, says) = match finding.keys_unrecorded {
        false if !finding.answerable => {
            (TaskKind::Record, format!("measure again and write {keys}: no answer settles {id}"))
        }
        true => (TaskKind::Record, format!("write {keys}, or have {id} answered")),
        false if keys.is_empty() => (TaskKind::Answer, format!("answer {id} ([[answers]])")),
        false => (TaskKind::Answer, format!("answer {id} ([[answers]]); it rests on {keys}")),
    };
    Task { kind, finding: Some(id.clone()), keys: finding.keys.clone(), needed_for: Vec::new(), says }
}

fn written(keys: &[Place]) -> String {
    keys.iter().map(Place::written).collect::<Vec<_>>().join(", ")
}
