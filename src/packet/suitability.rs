//! The suitability sheet of a record, half filled in or complete. It needs no plan and no date.

use chrono::{NaiveDateTime, TimeZone};

use super::assessment::Gap;
use super::{Assessment, CaseError, Form, made};
use crate::content::words::Words;
use crate::content::{Content, labels};
use crate::document::papers::suitability::{self, Lacking, Missing};
use crate::document::sheet::Sheet;
use crate::document::{Document, Page};
use crate::facts::Moment;
use crate::plan::{Anchors, Plan};
use crate::practice::Draft;

/// The suitability sheet of a draft, before the treatment.
///
/// # Errors
/// A text that is missing.
pub fn document(draft: &Draft, issued: NaiveDateTime) -> Result<Document, CaseError> {
    let assessment = Assessment::of_draft(draft, Moment::Before);
    let (practice, record) = (assessment.practice(), assessment.record());
    let library = practice.library(practice.staff_language())?;
    let content = Content::words(library, &assessment.facts)?;
    let zone = practice.profile.practice.time_zone.0;
    let plan = nothing_planned(&assessment);
    let sheet = Sheet {
        record,
        profile: &practice.profile,
        formulary: &practice.formulary,
        facts: &assessment.facts,
        findings: &assessment.findings,
        plan: &plan,
        content: &content,
        moment: Moment::Before,
        issued: zone.from_utc_datetime(&issued).date_naive(),
        withheld: None,
        patient_page: false,
        lacking: &[],
        overlaps: &[],
        draft: false,
        both_eyes: None,
        patient: &library.locale,
        clinic: &library.locale,
        name: practice.fonts.missing(&record.patient.name).is_none().then_some(record.patient.name.as_str()),
        patient_draft: false,
    };
    let names = labels::load(&practice.assets, practice.staff_language())?;
    let keys: Vec<Missing> = assessment.gaps.iter().map(|gap| missing(gap, &names)).collect();
    let may_come = may_come(&assessment, &content)?;
    Ok(suitability::build(&sheet, Lacking { keys: &keys, may_come: &may_come })?)
}

fn missing(gap: &Gap, names: &Words) -> Missing {
    let pointer = gap.pointer.clone();
    let name = labels::name(names, &pointer).map_or_else(|| pointer.clone(), str::to_owned);
    Missing { pointer, name, known_by: gap.known_by }
}

/// The sheet as a file in one form: its name and its bytes.
///
/// # Errors
/// As [`document`], and what the layout refuses.
pub fn file(draft: &Draft, form: Form, issued: NaiveDateTime) -> Result<(String, Vec<u8>), CaseError> {
    let document = document(draft, issued)?;
    let code = if draft.lacks("/case/code") { "draft" } else { draft.record().case.code.as_str() };
    let id = format!("{code}-{}", Page::Suitability.word());
    let ident = format!("{id} {}", document.language);
    let bytes = made::in_form(draft.practice(), &document, &id, ident, form, issued)?;
    Ok((format!("{id}.{}", form.extension()), bytes))
}

/// A plan of nothing: no page may hang on a start that is not recorded.
fn nothing_planned(assessment: &Assessment) -> Plan {
    let (profile, start) = (&assessment.practice().profile, assessment.record().plan.start.0);
    Plan {
        zone: profile.practice.time_zone.0,
        anchors: Anchors::planned(start, profile),
        doses: Vec::new(),
        uses: Vec::new(),
        continued: Vec::new(),
        visits: Vec::new(),
        recheck: None,
    }
}

/// The titles of the stops and questions that may yet come; those that print what is missing are named by their ids.
fn may_come(assessment: &Assessment, content: &Content) -> Result<Vec<String>, CaseError> {
    let rules = &assessment.practice().rules.general;
    let withholding = assessment.undecided.iter().filter(|one| one.level.withholds());
    let titled = withholding.map(|one| {
        let title = rules.iter().find(|rule| rule.row.id == one.id).map(|rule| rule.row.title.as_str());
        let title = title.filter(|title| !title.contains("{{")).map(|title| content.template(&one.id, title));
        Ok(match title.transpose()? {
            Some(title) => crate::content::markdown::plain(&title),
            None => one.id.replace('-', " "),
        })
    });
    titled.collect()
}
