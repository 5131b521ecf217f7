//! How many pages a consent takes in each language: one or two more than in US English, none but the last of body and annex half
//! empty, no risk torn, and each signature beside its sentence.

use std::collections::{BTreeMap, BTreeSet};

use vitreoleaf::document::Document;
use vitreoleaf::facts::Moment;
use vitreoleaf::record::Record;
use vitreoleaf::record::person::Print;
use vitreoleaf::render::typeset;

use super::every::Language;
use crate::consent::{changed, eyes};

/// Most pages of the body: of the plain eye, of its annex, of the fullest eye, and of the plain eye in large print.
const PLAIN: usize = 7;
const ANNEX: usize = 3;
const FULLEST: usize = 9;
const LARGE: usize = 12;

/// Pages of body and annex, and what is wrong with them.
struct Laid {
    body: usize,
    annex: usize,
    faults: Vec<String>,
}

/// Which pages each mark stands on.
fn marks(language: &Language, document: &Document) -> BTreeMap<String, BTreeSet<usize>> {
    let mut marks: BTreeMap<String, BTreeSet<usize>> = BTreeMap::new();
    for (at, picture) in language.typesetter.preview(document).unwrap().into_iter().enumerate() {
        for spot in picture.spots {
            marks.entry(spot.id).or_default().insert(at + 1);
        }
    }
    marks
}

fn laid(language: &Language, record: &Record) -> Laid {
    let document = language.page(record, Moment::Before, language.tag);
    let (marks, reach) = (marks(language, &document), language.typesetter.reach(&document).unwrap());
    let body = marks["benefit-other-studies"].first().unwrap() - 1;
    let mut faults = Vec::new();
    for (at, full) in (1..).zip(&reach) {
        if at != body && at != reach.len() && *full < 0.5 {
            faults.push(format!("page {at} of {reach:?} is half empty"));
        }
    }
    for (id, pages) in marks.iter().filter(|(id, pages)| id.starts_with("risk-") && pages.len() > 1) {
        faults.push(format!("{id} is torn over {pages:?}"));
    }
    let first = |id: &str| marks.get(id).and_then(BTreeSet::first);
    let (sentence, signed) = (first("consent-sign"), first("part/sign-patient"));
    if sentence != signed {
        faults.push(format!("signed on {signed:?}, the sentence stands on {sentence:?}"));
    }
    Laid { body, annex: reach.len() - body, faults }
}

fn assert_at_most(language: &Language, name: &str, record: &Record, (body, annex): (usize, usize)) {
    let laid = laid(language, record);
    let told = format!("{}, {name}: {} and {} pages, {:?}", language.tag, laid.body, laid.annex, laid.faults);
    assert!(laid.body <= body && laid.annex <= annex && laid.faults.is_empty(), "{told}");
}

/// The plain eye in both sizes of print, and the longest pages of the table; `VITREOLEAF_EVERY=1`: all of them.
pub(super) fn each_consent(language: &Language) {
    let mut plain = changed(&BTreeMap::new());
    assert_at_most(language, "plain", &plain, (PLAIN, ANNEX));
    plain.patient.print = Print::Large;
    assert_at_most(language, "large", &plain, (LARGE, usize::MAX));
    let mut all = eyes();
    if std::env::var_os("VITREOLEAF_EVERY").is_none() {
        let length =
            |record: &Record| format!("{:?}", language.page(record, Moment::Before, language.tag).blocks).len();
        all.sort_by_cached_key(|(_, record)| std::cmp::Reverse(length(record)));
        all.truncate(2);
    }
    for chunk in all.chunks(8) {
        for (name, record) in chunk {
            assert_at_most(language, name, record, (FULLEST, usize::MAX));
        }
        typeset::forget();
    }
}
