//! Two cases of one patient, a right and a left eye whose drops overlap: one calendar for both.

use chrono::{NaiveDate, NaiveDateTime};

use super::{Case, File, Form, Output};
use crate::content::Content;
use crate::document::both_eyes::{self, BothEyes};
use crate::facts::Moment;
use crate::render;

/// Finds the cases that need a calendar for both eyes, makes it, and takes the doses out of their own calendars. The files
/// come with the place of the case treated later, each page in these forms; `issued` says when that one is issued.
///
/// # Errors
/// Why two cases of one patient cannot share a calendar, and what to correct; or what cannot be made.
pub fn join(
    cases: &mut [Case],
    forms: &[Form],
    issued: impl Fn(&Case) -> NaiveDateTime,
) -> Result<Vec<(usize, File)>, String> {
    let mut files = Vec::new();
    for (first, second) in pairs(cases)? {
        let id = format!("{}-{}-both-eyes", cases[first].record.case.code, cases[second].record.case.code);
        cases[first].both_eyes = Some(id.clone());
        cases[second].both_eyes = Some(id.clone());
        let made = made([&cases[first], &cases[second]], &id, forms, issued(&cases[second]))?;
        files.extend(made.into_iter().map(|file| (second, file)));
    }
    Ok(files)
}

/// Pairs of cases by place, the one treated first in front.
fn pairs(cases: &[Case]) -> Result<Vec<(usize, usize)>, String> {
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (at, one) in cases.iter().enumerate() {
        for (other_at, other) in cases.iter().enumerate().skip(at + 1).filter(|(_, other)| overlap(one, other)) {
            same_patient(one, other)?;
            let earlier = one.plan.anchors.starts <= other.plan.anchors.starts;
            let pair = if earlier { (at, other_at) } else { (other_at, at) };
            if pairs.iter().any(|(first, second)| [first, second].iter().any(|of| [at, other_at].contains(of))) {
                return Err(told(one, other, "a third case of this patient has drops at the same time", "print two"));
            }
            pairs.push(pair);
        }
    }
    Ok(pairs)
}

/// Whether two cases of one record number have drops to come on the same dates. A plan that is withheld has none.
fn overlap(one: &Case, other: &Case) -> bool {
    let to_come = |case: &Case| case.moment == Moment::After && case.withheld.is_none() && last(case).is_some();
    let number = |case: &Case| case.record.patient.record_number.trim().to_lowercase();
    let runs_into = |case: &Case, later: &Case| last(case) >= Some(later.plan.anchors.treatment);
    number(one) == number(other)
        && one.record.case.code != other.record.case.code
        && to_come(one)
        && to_come(other)
        && runs_into(one, other)
        && runs_into(other, one)
}

/// The last date with a drop; none without drops.
fn last(case: &Case) -> Option<NaiveDate> {
    case.plan.uses.iter().map(|used| used.last).max()
}

/// What two records of one patient must agree on before one page can hold both.
fn same_patient(one: &Case, other: &Case) -> Result<(), String> {
    let (a, b) = (&one.record.patient, &other.record.patient);
    let differ = |what: &str| Err(told(one, other, &format!("their {what} differ"), "correct one of the two records"));
    if (&a.name, a.birth_date) != (&b.name, b.birth_date) {
        return differ("names or dates of birth");
    }
    if (a.wakes, a.sleeps) != (b.wakes, b.sleeps) {
        return differ("hours of getting up and sleep");
    }
    if (&a.language, a.print) != (&b.language, b.print) {
        return differ("languages or sizes of print");
    }
    if one.record.eye.side == other.record.eye.side {
        return Err(told(one, other, "both are of the same eye", "print only the case that counts now"));
    }
    Ok(())
}

fn told(one: &Case, other: &Case, why: &str, help: &str) -> String {
    let codes = [&one.record.case.code, &other.record.case.code];
    format!(
        "stop: cases {} and {} have one record number and drops at the same time, but no calendar for both can be made, because {why}: {help}",
        codes[0], codes[1]
    )
}

fn made(cases: [&Case; 2], id: &str, forms: &[Form], issued: NaiveDateTime) -> Result<Vec<File>, String> {
    let [first, second] = cases;
    let day = second.local(issued);
    let mut files = Vec::new();
    for library in second.patient_libraries()? {
        let contents = [Content::words(library, &first.facts)?, Content::words(library, &second.facts)?];
        let both = BothEyes { first: first.sheet(&contents[0], day)?, second: second.sheet(&contents[1], day)?, id };
        let document = both_eyes::build(&both)?;
        let whose = if document.second { "-clinic" } else { "" };
        for form in forms {
            let name = format!("{id}{whose}.{}", form.extension());
            let bytes = second.made(&document, id, *form, issued)?;
            files.push(File { output: Output::of(&document, *form), name, bytes });
        }
        if !document.second {
            let calendar = render::events::both_eyes(&both, issued)?;
            files.push(File { output: Output::Calendar, name: format!("{id}.ics"), bytes: calendar.into_bytes() });
        }
    }
    #[cfg(feature = "typeset")]
    render::typeset::forget();
    Ok(files)
}
