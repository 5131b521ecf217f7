//! How many pages a consent takes, and that none of them but the last of body and annex is half empty, that the ways stand on
//! one page, that no risk is torn, and that nobody signs away from the sentence: a patient stops reading a long paper. The eyes
//! are those of `tests/consent/eyes.toml`.

use std::collections::{BTreeMap, BTreeSet};

use vitreoleaf::document::Document;
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::practice::Practice;
use vitreoleaf::record::Record;
use vitreoleaf::record::person::Print;
use vitreoleaf::render::typeset;

use crate::consent::{changed, eyes};
use crate::packets::{checked, practice};

/// Most pages of the body: of the plain eye, of its annex, of the fullest eye, and of the plain eye in large print.
const BODY: usize = 5;
const ANNEX: usize = 3;
const FULLEST: usize = 7;
const LARGE: usize = 10;

/// Pages of the body, and how full each page is.
struct Laid {
    body: usize,
    reach: Vec<f64>,
    /// Pages on which each mark stands.
    pages: BTreeMap<String, BTreeSet<usize>>,
}

fn consent(practice: &Practice, record: &Record) -> Document {
    Case::new(&checked(practice, record), Moment::Before).unwrap().unissued().unwrap()
}

fn laid(practice: &Practice, record: &Record) -> Laid {
    let document = consent(practice, record);
    let mut pages: BTreeMap<String, BTreeSet<usize>> = BTreeMap::new();
    for (at, picture) in practice.typesetter().preview(&document).unwrap().into_iter().enumerate() {
        for spot in picture.spots {
            pages.entry(spot.id).or_default().insert(at + 1);
        }
    }
    let annex = pages["benefit-other-studies"].first().unwrap();
    Laid { body: annex - 1, reach: practice.typesetter().reach(&document).unwrap(), pages }
}

impl Laid {
    fn on(&self, id: &str) -> Option<&BTreeSet<usize>> {
        self.pages.get(id)
    }

    /// No page is half empty but the last of body and annex, and what runs over before the ways, which stay whole.
    fn assert_full(&self, name: &str) {
        let ways = self.on("option-laser").and_then(BTreeSet::first);
        for (at, reach) in self.reach.iter().enumerate() {
            let last = at + 1 == self.body || at + 1 == self.reach.len() || ways == Some(&(at + 2));
            assert!(last || *reach >= 0.5, "{name}: page {} of {:?}, body {}", at + 1, self.reach, self.body);
        }
    }

    /// Each signature stands with the sentence; the first page holds all it needs to stand alone; each risk is on one page.
    fn assert_whole(&self, name: &str) {
        for (id, with) in [("part/sign-patient", "consent-sign"), ("part/contact", "point-come-back")] {
            let first = |id: &str| self.on(id).and_then(BTreeSet::first);
            assert_eq!(
                self.on(id).is_some(),
                first(with).is_some() && first(id) == first(with),
                "{name}: {id} away from {with}"
            );
        }
        for (id, pages) in self.pages.iter().filter(|(id, _)| id.starts_with("risk-")) {
            assert_eq!(pages.len(), 1, "{name}: {id} is torn over {pages:?}");
        }
    }

    /// The ways side by side, on one page.
    fn assert_compared(&self, name: &str) {
        let ways: BTreeSet<usize> = ["option-laser", "option-leave", "option-vitrectomy"]
            .iter()
            .flat_map(|id| self.pages[*id].clone())
            .collect();
        assert_eq!(ways.len(), 1, "{name}: the ways stand on {ways:?}");
    }
}

fn plain() -> Practice {
    practice(|text| text, BTreeMap::new())
}

/// The plain eye, whose first page can stand alone.
#[test]
fn the_plain_eye() {
    let practice = plain();
    let laid = laid(&practice, &changed(&BTreeMap::new()));
    assert!(laid.body <= BODY, "{} pages", laid.body);
    assert!(laid.reach.len() - laid.body <= ANNEX, "{} pages", laid.reach.len() - laid.body);
    laid.assert_full("plain");
    laid.assert_whole("plain");
    laid.assert_compared("plain");
    for id in ["decision-lead", "benefit-trial", "point-retina", "point-pressure", "point-come-back", "part/contact"] {
        assert_eq!(laid.pages[id], BTreeSet::from([1]), "{id}");
    }
}

#[test]
fn the_plain_eye_in_large_print() {
    let practice = plain();
    let mut record = changed(&BTreeMap::new());
    record.patient.print = Print::Large;
    let laid = laid(&practice, &record);
    assert!(laid.body <= LARGE, "{} pages", laid.body);
    laid.assert_full("large");
    laid.assert_whole("large");
}

/// The longest pages of the table; `VITREOLEAF_EVERY=1`: all of them.
#[test]
fn no_eye_takes_more_or_leaves_a_page_half_empty() {
    let practice = plain();
    let mut all = eyes();
    if std::env::var_os("VITREOLEAF_EVERY").is_none() {
        let words = |record: &Record| format!("{:?}", consent(&practice, record).blocks).len();
        all.sort_by_cached_key(|(_, record)| std::cmp::Reverse(words(record)));
        all.truncate(2);
    }
    for chunk in all.chunks(8) {
        for (name, record) in chunk {
            let laid = laid(&practice, record);
            assert!(laid.body <= FULLEST, "{name}: {} pages", laid.body);
            laid.assert_full(name);
            laid.assert_whole(name);
        }
        typeset::forget();
    }
}
