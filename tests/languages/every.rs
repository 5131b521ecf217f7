//! What holds of every language that comes whole with the program, for every eye of `tests/consent/eyes.toml` and both
//! sizes of print.

use vitreoleaf::assets::{Assets, samples};
use vitreoleaf::content::lineage::SOURCE;
use vitreoleaf::demo;
use vitreoleaf::document::{Document, reading};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::practice::Practice;
use vitreoleaf::proof;
use vitreoleaf::proof::wording::Wording;
use vitreoleaf::record::{Record, person::Print};
use vitreoleaf::render::fonts::Fonts;
use vitreoleaf::render::typeset::{self, Typesetter};

use super::parity::Readers;
use super::{WHOLE, assert_nothing_left_out, assert_parity, printing_in};
use crate::consent::eyes;
use crate::outside::LONG_NAME;
use crate::packets::{checked, record};

/// What the fonts of the program cannot show: its pages need a font of the practice's own, here DejaVu Sans.
const OTHER_SCRIPT: &str = "ar";

fn typesetter(tag: &str) -> Typesetter {
    let own = [("fonts/regular.ttf", dejavu::sans::regular()), ("fonts/bold.ttf", dejavu::sans::bold())];
    let own = own.map(|(path, data)| (path.to_owned(), data.to_vec()));
    let needed = own.into_iter().filter(|_| tag == OTHER_SCRIPT).collect();
    let assets = Assets::default().with_fonts(needed);
    Typesetter::new(&assets, &Fonts::of(&assets).unwrap())
}

/// A whole language, ready to be held against US English.
struct Language {
    tag: &'static str,
    translated: bool,
    practice: Practice,
    readers: Readers,
    rules: Wording,
    typesetter: Typesetter,
}

impl Language {
    fn new((tag, translated): (&'static str, bool)) -> Self {
        let practice = printing_in(&[SOURCE, tag], Default::default());
        let (readers, rules) = (Readers::of(&practice), Wording::load(&practice.assets, tag).unwrap());
        Self { tag, translated, practice, readers, rules, typesetter: typesetter(tag) }
    }

    fn page(&self, record: &Record, moment: Moment, tag: &str) -> Document {
        let mut record = record.clone();
        record.patient.language = tag.into();
        Case::new(&checked(&self.practice, &record), moment).unwrap().unissued().unwrap()
    }

    /// ACA-5: the same statements in the same order with the same numbers, dates and times as in US English; nothing that
    /// the language's own wording rules forbid; a translation that nobody has reviewed says on its pages that it is a draft.
    /// Every glyph is there, no text is cut off or stands on something else, and text and HTML leave nothing out.
    fn assert_holds(&self, name: &str, record: &Record, moment: Moment) {
        let (tag, page) = (self.tag, self.page(record, moment, self.tag));
        assert_parity(&self.readers, &page, &self.page(record, moment, SOURCE));
        assert_eq!(page.draft, self.translated, "{tag}, {name}");
        assert_eq!(page.banner.iter().filter(|line| line.language == tag).count(), usize::from(self.translated));
        for passage in reading::read(&page).iter().filter(|passage| self.is_statement(passage)) {
            let hits = self.rules.lines(&passage.text);
            assert!(hits.is_empty(), "{tag}, {name}: {hits:?} in {:?}", passage.text);
        }
        assert_nothing_left_out(&page);
        let laid_out = self.typesetter.places(&page);
        laid_out.unwrap_or_else(|error| panic!("{tag}, {name}: {error}"));
    }

    /// Statements are the language's own; labels stand beside what the record and the practice wrote.
    fn is_statement(&self, passage: &reading::Passage) -> bool {
        self.practice.library(self.tag).unwrap().text(&passage.id).is_some()
    }
}

const PRINTS: [Print; 2] = [Print::Standard, Print::Large];

#[test]
fn each_eye_is_told_the_same_in_every_language_and_size_of_print() {
    for language in WHOLE.map(Language::new) {
        for (name, mut record) in eyes() {
            for print in PRINTS {
                record.patient.print = print;
                language.assert_holds(&name, &record, Moment::Before);
            }
        }
        typeset::forget();
    }
}

#[test]
fn each_aftercare_of_the_demo_says_the_same_in_every_language_and_size_of_print() {
    let files = samples().into_keys();
    let names: Vec<String> = files.filter_map(|path| path.strip_suffix("/case.toml").map(str::to_owned)).collect();
    let records = names.iter().map(|name| (name.as_str(), record(name, |text| text)));
    let treated: Vec<_> = records.filter(|(_, record)| record.treatment.is_some()).collect();
    assert!(treated.len() > 4);
    for language in WHOLE.map(Language::new) {
        for (name, mut record) in treated.clone() {
            for print in PRINTS {
                record.patient.print = print;
                language.assert_holds(name, &record, Moment::After);
            }
        }
        typeset::forget();
    }
}

/// A name as long as a record takes leaves room for everything else on the pages of everybody.
#[test]
fn the_longest_name_fits_every_language_and_size_of_print() {
    let case = record("multifocal-glaucoma", |text| text);
    for language in WHOLE.map(Language::new) {
        for print in PRINTS {
            let mut record = case.clone();
            record.patient.name = LONG_NAME.into();
            record.patient.language = language.tag.into();
            record.patient.print = print;
            for moment in [Moment::Before, Moment::After] {
                let checked = checked(&language.practice, &record);
                let case = Case::new(&checked, moment).unwrap();
                for page in case.documents(demo::issued(&record, moment)).unwrap() {
                    let laid_out = language.typesetter.places(&page);
                    laid_out.unwrap_or_else(|error| panic!("{}, {}: {error}", language.tag, page.page.word()));
                    assert_eq!(page.header.name.trim_matches(['\u{2066}', '\u{2069}']), LONG_NAME);
                }
            }
        }
        typeset::forget();
    }
}

/// What an editor is told by `proofread`, in every language: plain enough, no word too many, medical words explained.
#[test]
fn proofreading_finds_nothing_to_mend_in_any_language() {
    for (tag, _) in WHOLE {
        let practice = printing_in(&[SOURCE, tag], Default::default());
        let faults = proof::proofread(&practice, tag).unwrap();
        assert!(faults.is_empty(), "{tag}: {faults:?}");
    }
}
