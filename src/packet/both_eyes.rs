//! Two cases of one patient, a right and a left eye whose drops overlap: one calendar for both.

use chrono::{NaiveDate, NaiveDateTime};

use super::error::CaseError;
use super::json::Printed;
use super::lined::Laid;
use super::output::{File, Form, Output};
use super::{Case, RefusedPage};
use crate::content::Content;
use crate::document::Page;
use crate::document::both_eyes::{self, BothEyes};
use crate::facts::Moment;
use crate::record::identity::{Identity, Same};
use crate::render;

/// Two cases whose drops cannot stand in one calendar, and why. Neither drop plan may go out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("cases {} and {} have drops at the same time, but no calendar for both can be made, because {why}", codes[0], codes[1])]
pub struct Stop {
    /// Their places.
    pub cases: [usize; 2],
    /// Their codes.
    pub codes: [String; 2],
    why: &'static str,
}

/// What is found among cases that may be of one patient.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Found {
    /// Cases that share a calendar, by place, the one treated first in front.
    pub pairs: Vec<[usize; 2]>,
    /// Cases that would have to share one and cannot.
    pub stops: Vec<Stop>,
}

/// Finds the cases that need a calendar for both eyes. Of what only may be one patient the findings ask: nothing is merged.
#[must_use]
pub fn find(cases: &[&Case]) -> Found {
    let met = met(cases);
    let mut found = Found::default();
    for pair in &met {
        let [one, other] = pair.map(|at| cases[at]);
        let shares = |other: &[usize; 2]| other != pair && other.iter().any(|at| pair.contains(at));
        let third = met.iter().any(shares).then_some(THIRD);
        match contradiction(one, other).or(third) {
            Some(why) => found.stops.push(Stop { cases: *pair, codes: [one, other].map(code), why }),
            None if one.plan.anchors.starts <= other.plan.anchors.starts => found.pairs.push(*pair),
            None => found.pairs.push([pair[1], pair[0]]),
        }
    }
    found
}

/// Cases of one patient that have drops on the same dates, two by two.
fn met(cases: &[&Case]) -> Vec<[usize; 2]> {
    let identities: Vec<Identity> = cases.iter().map(|case| Identity::of(&case.record.patient)).collect();
    let pairs = (0..cases.len()).flat_map(|at| (at + 1..cases.len()).map(move |other| [at, other]));
    let same = pairs.filter(|[at, other]| identities[*at].same(&identities[*other]) == Same::Patient);
    same.filter(|[at, other]| overlap(cases[*at], cases[*other])).collect()
}

const THIRD: &str = "a third case of this patient has drops at the same time: print two";

fn code(case: &Case) -> String {
    case.record.case.code.clone()
}

/// What [`join`] can make of two cases, the one treated first in front, each page in these forms.
///
/// # Errors
/// A language the practice does not print in.
pub fn outputs([_, second]: [&Case; 2], forms: &[Form]) -> Result<Vec<Output>, CaseError> {
    let mut outputs = second.page_in_its_languages(Page::BothEyes, forms)?;
    outputs.push(Output::Calendar);
    Ok(outputs)
}

/// The calendar of two cases.
#[derive(Debug, Clone, Default)]
pub struct Joined {
    /// Its files, complete.
    pub files: Vec<File>,
    /// The page sets among them, as the data of the case treated later lists them.
    pub printed: Vec<Printed>,
    /// Those that are not printed as they should be.
    pub refused_pages: Vec<RefusedPage>,
}

/// Takes the doses of two cases that [`find`] found out of their own calendars, and makes of the calendar of both what is
/// among `outputs`, each page in these forms.
///
/// # Errors
/// What cannot be made.
pub fn join(
    cases: [&mut Case; 2],
    forms: &[Form],
    outputs: &[Output],
    issued: NaiveDateTime,
) -> Result<Joined, CaseError> {
    let [first, second] = cases;
    let id = id([&first.record.case.code, &second.record.case.code]);
    first.both_eyes = Some(id.clone());
    second.both_eyes = Some(id.clone());
    made([&*first, &*second], &id, forms, outputs, issued)
}

/// Id of the calendar of two cases. The sign between the codes stands in none, so no other two have the same.
fn id([first, second]: [&str; 2]) -> String {
    format!("{first}_{second}-both-eyes")
}

/// Whether two cases have drops to come on the same dates. A plan that is withheld has none.
fn overlap(one: &Case, other: &Case) -> bool {
    let to_come = |case: &Case| case.moment == Moment::After && case.withheld.is_none() && last(case).is_some();
    let runs_into = |case: &Case, later: &Case| last(case) >= Some(later.plan.anchors.treatment);
    one.record.case.code != other.record.case.code
        && to_come(one)
        && to_come(other)
        && runs_into(one, other)
        && runs_into(other, one)
}

/// The last date with a drop; none without drops.
fn last(case: &Case) -> Option<NaiveDate> {
    case.plan.uses.iter().map(|used| used.last).max()
}

/// Why one page cannot hold both cases, and what to do.
fn contradiction(one: &Case, other: &Case) -> Option<&'static str> {
    let (a, b) = (&one.record.patient, &other.record.patient);
    if (a.wakes, a.sleeps) != (b.wakes, b.sleeps) {
        return Some("their hours of getting up and sleep differ: correct one of the two records");
    }
    if (&a.language, a.print) != (&b.language, b.print) {
        return Some("their languages or sizes of print differ: correct one of the two records");
    }
    (one.record.eye.side == other.record.eye.side)
        .then_some("both are of the same eye: print only the case that counts now")
}

fn made(
    cases: [&Case; 2],
    id: &str,
    forms: &[Form],
    outputs: &[Output],
    issued: NaiveDateTime,
) -> Result<Joined, CaseError> {
    let [first, second] = cases;
    let day = second.local(issued);
    #[cfg(feature = "typeset")]
    render::typeset::forget();
    let mut joined = Joined::default();
    for library in second.patient_libraries()? {
        let contents = [Content::words(library, &first.facts)?, Content::words(library, &second.facts)?];
        let both = BothEyes { first: first.sheet(&contents[0], day)?, second: second.sheet(&contents[1], day)?, id };
        let document = both_eyes::build(&both)?;
        let whose = if document.second { "-clinic" } else { "" };
        for form in forms.iter().filter(|form| outputs.contains(&Output::of(&document, **form))) {
            let name = format!("{id}{whose}.{}", form.extension());
            for document in second.readable(vec![document.clone()], *form)? {
                let Laid { document, bytes, refused } = second.laid(document, id, *form, issued)?;
                joined.refused_pages.extend(refused);
                let file = File { output: Output::of(&document, *form), name: name.clone(), bytes };
                joined.printed.push(Printed::new(&document, &file, id, issued));
                joined.files.push(file);
            }
        }
        if !document.second && outputs.contains(&Output::Calendar) {
            let calendar = render::events::both_eyes(&both, issued)?;
            joined.files.push(File {
                output: Output::Calendar,
                name: format!("{id}.ics"),
                bytes: calendar.into_bytes(),
            });
        }
    }
    Ok(joined)
}

#[cfg(test)]
mod tests {
    use super::id;

    #[test]
    fn no_two_pairs_of_codes_have_one_id() {
        assert_eq!(id(["EX-10", "EX-11"]), "EX-10_EX-11-both-eyes");
        assert_ne!(id(["A-B", "C"]), id(["A", "B-C"]));
    }
}
