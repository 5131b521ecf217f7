//! How many pages and words a consent takes, in each size of print and language; that no page but the last of body and annex is half
//! empty; that no table, box, risk or signature is torn: a patient stops reading a long paper, and a table that goes on overleaf
//! is compared with nothing. The eyes are those of `tests/consent/eyes.toml`.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use vitreoleaf::content::folders::SOURCE;
use vitreoleaf::document::{Block, Document, Inline, Risks, Ways, reading};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::practice::Practice;
use vitreoleaf::record::Record;
use vitreoleaf::record::person::Print;
use vitreoleaf::render::fonts::Fonts;
use vitreoleaf::render::typeset::{self, Typesetter};

use crate::consent::{changed, eyes};
use crate::languages::every::with_fonts;
use crate::languages::{WHOLE, printing_in};
use crate::packets::{checked, practice};

/// Most pages in US English: of the body of the plain eye and its annex, of the body of the fullest eye, and of that of the plain
/// eye in large print. UK English may take one more of each, a draft, which is not for patients yet, two.
const BODY: usize = 5;
const ANNEX: usize = 2;
const FULLEST: usize = 7;
const LARGE: usize = 10;

/// Eyes whose Arabic draft leaves a page nearly empty in standard print, until its texts are shorter.
const THIN: [(&str, &str); 3] = [
    ("ar", "Multifocal implant"),
    ("ar", "Lens not recorded"),
    ("ar", "No lens, glaucoma, earlier detachment, macular disease"),
];

/// As many pages as it takes.
const UNHELD: usize = 1_000;

/// Most words on the body of the plain eye: running text, and all that is printed, with headings, labels, figures and blanks.
const RUNNING: usize = 1_200;
const PRINTED: usize = 1_600;

/// A practice that prints in a language, and what lays out its pages.
struct Press {
    tag: &'static str,
    practice: Practice,
    typesetter: Typesetter,
}

impl Press {
    fn of(tag: &'static str) -> Self {
        let practice = if tag == SOURCE { plain() } else { printing_in(&[SOURCE, tag], BTreeMap::new()) };
        let assets = with_fonts(tag);
        let typesetter = Typesetter::new(&assets, &Fonts::of(&assets).unwrap());
        Self { tag, practice, typesetter }
    }

    fn is_draft(&self) -> bool {
        WHOLE.contains(&(self.tag, true))
    }

    /// Pages that a language may take beyond those of US English.
    fn more(&self) -> usize {
        if self.is_draft() { 2 } else { usize::from(self.tag != SOURCE) }
    }

    fn consent(&self, record: &Record, print: Print) -> Document {
        let mut record = record.clone();
        (record.patient.language, record.patient.print) = (self.tag.into(), print);
        consent(&self.practice, &record)
    }

    fn laid(&self, record: &Record, print: Print) -> Laid {
        let document = self.consent(record, print);
        let mut pages: BTreeMap<String, Vec<usize>> = BTreeMap::new();
        for (at, picture) in self.typesetter.preview(&document).unwrap().into_iter().enumerate() {
            for spot in picture.spots {
                pages.entry(spot.id).or_default().push(at + 1);
            }
        }
        let reach = self.typesetter.reach(&document).unwrap();
        Laid { body: pages["benefit-other-studies"][0] - 1, reach, pages, document }
    }
}

fn consent(practice: &Practice, record: &Record) -> Document {
    Case::new(&checked(practice, record), Moment::Before).unwrap().unissued().unwrap()
}

/// A consent on its pages.
struct Laid {
    document: Document,
    /// Pages of the body.
    body: usize,
    /// How full each page is.
    reach: Vec<f64>,
    /// The page of each place where a mark stands, in order.
    pages: BTreeMap<String, Vec<usize>>,
}

impl Laid {
    fn on(&self, id: &str) -> BTreeSet<usize> {
        self.pages.get(id).into_iter().flatten().copied().collect()
    }

    fn of(&self, wanted: impl Fn(&str) -> bool) -> BTreeSet<usize> {
        self.pages.iter().filter(|(id, _)| wanted(id)).flat_map(|(_, pages)| pages).copied().collect()
    }

    fn risks(&self) -> &Risks {
        let risks = |block: &Block| matches!(block, Block::Risks(_));
        let Some(Block::Risks(risks)) = self.document.blocks.iter().find(|block| risks(block)) else {
            panic!("no risks")
        };
        risks
    }

    fn ways(&self) -> &Ways {
        let ways = |block: &Block| matches!(block, Block::Ways(_));
        let Some(Block::Ways(ways)) = self.document.blocks.iter().find(|block| ways(block)) else { panic!("no ways") };
        ways
    }

    /// What is torn. In large print there are no tables.
    fn torn(&self) -> Vec<String> {
        let large = self.document.print == Print::Large;
        let tables = if large { Vec::new() } else { [self.torn_risks(), self.torn_ways()].concat() };
        [self.apart(), tables].concat()
    }

    /// Pages that are half empty, other than the last of body and annex.
    fn half_empty(&self) -> Vec<String> {
        let last = |page: usize| page == self.body || page == self.reach.len();
        let pages = self.reach.iter().enumerate().map(|(at, reach)| (at + 1, reach));
        let empty = pages.filter(|(page, reach)| !last(*page) && **reach < 0.5);
        empty.map(|(page, _)| format!("page {page} of {:?}, body {}", self.reach, self.body)).collect()
    }

    /// Signatures away from the sentence, the line that says when to call away from its numbers, and risks on two pages.
    fn apart(&self) -> Vec<String> {
        let mut faults = Vec::new();
        let sentence = self.of(|id| id.starts_with("consent-sign"));
        for id in self.pages.keys().filter(|id| id.starts_with("part/sign-")) {
            if !self.on(id).is_subset(&sentence) {
                faults.push(format!("{id} on {:?}, what is signed on {sentence:?}", self.on(id)));
            }
        }
        if self.on("part/contact") != self.on("point-come-back") || self.on("part/contact").len() != 1 {
            faults.push(format!("the numbers on {:?}", self.on("part/contact")));
        }
        let torn = self.pages.keys().filter(|id| id.starts_with("risk-") && self.on(id).len() > 1);
        faults.extend(torn.map(|id| format!("{id} on {:?}", self.on(id))));
        faults
    }

    /// Risks of one topic on two pages: a table holds whole topics.
    fn torn_risks(&self) -> Vec<String> {
        let mut topics: BTreeMap<&str, BTreeSet<usize>> = BTreeMap::new();
        for risk in &self.risks().rows {
            let ids = risk.often.iter().filter_map(|inline| match inline {
                Inline::Mark(id) => Some(self.on(id)),
                _ => None,
            });
            topics.entry(&risk.topic).or_default().extend(ids.flatten());
        }
        assert!(topics.values().all(|pages| !pages.is_empty()));
        let torn = topics.iter().filter(|(_, pages)| pages.len() > 1);
        torn.map(|(topic, pages)| format!("risks of {topic:?} on {pages:?}")).collect()
    }

    /// Ways not whole on one page, nor what they involve and bring on one and all harms on the next.
    fn torn_ways(&self) -> Vec<String> {
        let cells = |rows: usize| rows * self.ways().names.len();
        let good = cells(self.ways().rows.iter().filter(|row| !row.harm).count());
        let all = cells(self.ways().rows.len());
        let mut on: BTreeMap<usize, usize> = BTreeMap::new();
        for page in self.pages.iter().filter(|(id, _)| id.starts_with("option-")).flat_map(|(_, pages)| pages) {
            *on.entry(*page).or_default() += 1;
        }
        let told: Vec<usize> = on.values().copied().collect();
        let whole = told == [all] || told == [good, all - good];
        if whole { Vec::new() } else { vec![format!("answers of the ways on {on:?}")] }
    }
}

fn plain() -> Practice {
    practice(|text| text, BTreeMap::new())
}

/// The plain eye, whose first page can stand alone; its ways are one table, and its risks.
#[test]
fn the_plain_eye() {
    let laid = Press::of(SOURCE).laid(&changed(&BTreeMap::new()), Print::Standard);
    assert!(laid.body <= BODY, "{} pages", laid.body);
    assert!(laid.reach.len() - laid.body <= ANNEX, "{} pages", laid.reach.len() - laid.body);
    assert_eq!([laid.torn(), laid.half_empty()].concat(), Vec::<String>::new());
    assert_eq!((laid.of(|id| id.starts_with("option-")).len(), laid.of(|id| id.starts_with("risk-")).len()), (1, 1));
    for id in ["decision-lead", "benefit-trial", "point-retina", "point-pressure", "point-come-back", "part/contact"] {
        assert_eq!(laid.on(id), BTreeSet::from([1]), "{id}");
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

/// Whether every eye is laid out, and not the longest alone: `VITREOLEAF_EVERY=1`.
fn every() -> bool {
    std::env::var_os("VITREOLEAF_EVERY").is_some()
}

/// The eyes of the table with the longest pages in this language.
fn longest(press: &Press, most: usize) -> Vec<(String, Record)> {
    let words = |record: &Record| format!("{:?}", press.consent(record, Print::Standard).blocks).len();
    let mut all = eyes();
    all.sort_by_cached_key(|(_, record)| Reverse(words(record)));
    all.truncate(most);
    all
}

/// What is wrong with these eyes in both sizes of print. The plain eye is laid out with them.
fn faults(press: &Press, eyes: &[(String, Record)]) -> Vec<String> {
    let plain = ("plain".to_owned(), changed(&BTreeMap::new()));
    let mut faults = Vec::new();
    for chunk in [&[plain], eyes].concat().chunks(8) {
        for (name, record) in chunk {
            for print in [Print::Standard, Print::Large] {
                let laid = press.laid(record, print);
                let most = match (name.as_str(), print) {
                    ("plain", Print::Standard) => BODY,
                    ("plain", Print::Large) => LARGE,
                    (_, Print::Standard) => FULLEST,
                    (_, Print::Large) => UNHELD,
                };
                let mut found = laid.torn();
                let thin = press.is_draft() && print == Print::Large || THIN.contains(&(press.tag, name.as_str()));
                if !thin {
                    found.extend(laid.half_empty());
                }
                found.extend((laid.body > most + press.more()).then(|| format!("{} pages", laid.body)));
                faults.extend(found.into_iter().map(|fault| format!("{}, {name}, {print:?}: {fault}", press.tag)));
            }
        }
        typeset::forget();
    }
    faults
}

/// The longest pages of the table; `VITREOLEAF_EVERY=1`: all of them.
#[test]
fn no_eye_takes_more_or_leaves_a_page_half_empty() {
    let press = Press::of(SOURCE);
    let faults = faults(&press, &longest(&press, if every() { usize::MAX } else { 3 }));
    assert!(faults.is_empty(), "{faults:#?}");
}

/// The longest page of the table in each other language; `VITREOLEAF_EVERY=1`: all of them.
#[test]
fn no_language_takes_more_or_tears_a_table() {
    let of = |(tag, _)| {
        let press = Press::of(tag);
        faults(&press, &longest(&press, if every() { usize::MAX } else { 1 }))
    };
    let faults: Vec<String> = WHOLE.into_iter().flat_map(of).collect();
    assert!(faults.is_empty(), "{faults:#?}");
}
