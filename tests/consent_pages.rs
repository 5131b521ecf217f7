//! How many pages and words a consent takes, and that no page but the last of body and annex is half empty, that the ways stand
//! on one page, and the risks where one holds them, that no risk is torn, and that nobody signs away from the sentence: a patient
//! stops reading a long paper. The eyes are those of `tests/consent/eyes.toml`.

use std::collections::{BTreeMap, BTreeSet};

use vitreoleaf::document::{Block, Document, reading};
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
const ANNEX: usize = 2;
const FULLEST: usize = 7;
const LARGE: usize = 10;

/// Most words on the body of the plain eye: running text, and all that is printed, with headings, labels, figures and blanks.
const RUNNING: usize = 1_200;
const PRINTED: usize = 1_600;

/// The eye of which the ways take a little more than one page.
const LONG_WAYS: &str = "Natural lens, glaucoma, young partial detachment, cloud";

/// Eyes with so much to tell that their risks take more than one page.
const LONG_RISKS: [&str; 7] = [
    "Enlarged in the same session, long eye",
    "Enlarged in the same session, gel partly attached",
    "Enlarged in the same session, long eye, gel partly attached",
    "Natural lens, glaucoma, young partial detachment, cloud",
    "Multifocal, closed capsule opened in the same session, glaucoma, only seeing eye",
    "No lens, glaucoma, earlier detachment, macular disease",
    "Multifocal, long eye, lattice, young detachment, under 60",
];

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

    /// No page is half empty but the last of body and annex.
    fn assert_full(&self, name: &str) {
        for (at, reach) in self.reach.iter().enumerate() {
            let last = at + 1 == self.body || at + 1 == self.reach.len();
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

    /// All risks on one page, or on two where they fill more than one.
    fn assert_risks(&self, name: &str) {
        let pages: BTreeSet<&usize> =
            self.pages.iter().filter(|(id, _)| id.starts_with("risk-")).flat_map(|(_, pages)| pages).collect();
        let most = if LONG_RISKS.contains(&name) { 2 } else { 1 };
        assert!(pages.len() <= most, "{name}: the risks stand on {pages:?}");
    }

    /// The ways side by side, on one page.
    fn assert_compared(&self, name: &str) {
        if name == LONG_WAYS {
            return;
        }
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
    laid.assert_risks("plain");
    laid.assert_compared("plain");
    for id in ["decision-lead", "benefit-trial", "point-retina", "point-pressure", "point-come-back", "part/contact"] {
        assert_eq!(laid.pages[id], BTreeSet::from([1]), "{id}");
    }
}

/// Alternative texts of drawings, which nobody reads on paper.
fn unprinted(value: &serde_json::Value) -> usize {
    match value {
        serde_json::Value::Object(fields) => fields
            .iter()
            .map(|(key, value)| if key == "alt" { words(value.as_str().unwrap_or_default()) } else { unprinted(value) })
            .sum(),
        serde_json::Value::Array(items) => items.iter().map(unprinted).sum(),
        _ => 0,
    }
}

fn words(text: &str) -> usize {
    text.split_whitespace().count()
}

/// Words between spaces on the body of the plain eye, numbers counted too, without head and foot of the pages and numbers of
/// sources.
#[test]
fn the_body_is_read_in_ten_minutes() {
    let document = consent(&plain(), &changed(&BTreeMap::new()));
    let annex = document.blocks.iter().position(|block| matches!(block, Block::Annex)).unwrap();
    let body = Document { blocks: document.blocks[..annex].to_vec(), ..document };
    let read = reading::read(&body);
    let running: usize = read.iter().flat_map(|passage| &passage.running).map(|text| words(text)).sum();
    let printed: usize = read.iter().map(|passage| words(&passage.text)).sum();
    let printed = printed - unprinted(&serde_json::to_value(&body.blocks).unwrap());
    assert!(running <= RUNNING, "{running} words of running text");
    assert!(printed <= PRINTED, "{printed} words");
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
            laid.assert_risks(name);
            laid.assert_compared(name);
        }
        typeset::forget();
    }
}
