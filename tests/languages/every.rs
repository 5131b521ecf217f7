//! What holds of every language that comes whole with the program, for every eye of `tests/consent/eyes.toml` and both
//! sizes of print.

use std::collections::BTreeSet;

use vitreoleaf::assets::{Assets, samples};
use vitreoleaf::content::folders::SOURCE;
use vitreoleaf::demo;
use vitreoleaf::document::{Block, Document, reading};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::practice::Practice;
use vitreoleaf::proof;
use vitreoleaf::proof::wording::Wording;
use vitreoleaf::record::{Record, person::Print};
use vitreoleaf::render::fonts::Fonts;
use vitreoleaf::render::glyphs;
use vitreoleaf::render::typeset::{self, Typesetter};

use super::parity::Readers;
use super::{WHOLE, assert_nothing_left_out, assert_parity, printing_in};
use crate::consent::eyes;
use crate::outside::LONG_NAME;
use crate::packets::{checked, record};

/// What the fonts of the program cannot show: its pages need a font of the practice's own, here DejaVu Sans.
const OTHER_SCRIPT: &str = "ar";

/// The built-in files, with the fonts that the pages of this language need.
pub(crate) fn with_fonts(tag: &str) -> Assets {
    let own = [("fonts/regular.ttf", dejavu::sans::regular()), ("fonts/bold.ttf", dejavu::sans::bold())];
    let own = own.map(|(path, data)| (path.to_owned(), data.to_vec()));
    let needed = own.into_iter().filter(|_| tag == OTHER_SCRIPT).collect();
    Assets::default().with_fonts(needed)
}

/// A whole language, ready to be held against US English.
pub(super) struct Language {
    pub(super) tag: &'static str,
    translated: bool,
    pub(super) practice: Practice,
    readers: Readers,
    rules: Wording,
    fonts: Fonts,
    pub(super) typesetter: Typesetter,
    /// Statements that the wording rules have passed: most eyes are told most of the same.
    passed: BTreeSet<String>,
}

impl Language {
    fn new(tag: &'static str) -> Self {
        Self::of(tag, printing_in(&[SOURCE, tag], Default::default()))
    }

    pub(super) fn of(tag: &'static str, practice: Practice) -> Self {
        let (_, translated) = *WHOLE.iter().find(|(whole, _)| *whole == tag).unwrap();
        let (readers, rules) =
            (Readers::of(&practice), Wording::load(&practice.assets, &crate::packets::lineage(tag)).unwrap());
        let assets = with_fonts(tag);
        let fonts = Fonts::of(&assets).unwrap();
        let typesetter = Typesetter::new(&assets, &fonts);
        Self { tag, translated, practice, readers, rules, fonts, typesetter, passed: BTreeSet::new() }
    }

    fn page(&self, record: &Record, moment: Moment, tag: &str) -> Document {
        let mut record = record.clone();
        record.patient.language = tag.into();
        Case::new(&checked(&self.practice, &record), moment).unwrap().unissued().unwrap()
    }

    /// ACA-5: the same statements in the same order with the same numbers, dates and times as in US English; nothing that
    /// the language's own wording rules forbid; a translation that nobody has reviewed says on its pages that it is a draft.
    /// Text and HTML leave nothing out, and some font has every character.
    fn assert_holds(&mut self, name: &str, record: &Record, moment: Moment) -> Document {
        let (tag, page) = (self.tag, self.page(record, moment, self.tag));
        assert_parity(&self.readers, &page, &self.page(record, moment, SOURCE));
        assert_eq!(page.banner.iter().filter(|line| line.language == tag).count(), usize::from(self.translated));
        self.assert_reads(name, &page);
        page
    }

    /// What holds of every page set in the language.
    pub(super) fn assert_reads(&mut self, name: &str, page: &Document) {
        let tag = self.tag;
        assert_eq!((page.language.as_str(), page.draft), (tag, self.translated), "{name}");
        for passage in reading::read(page) {
            if self.is_statement(&passage) && !self.passed.contains(&passage.text) {
                let hits = self.rules.lines(&passage.text);
                assert!(hits.is_empty(), "{tag}, {name}: {hits:?} in {:?}", passage.text);
                self.passed.insert(passage.text);
            }
        }
        assert_nothing_left_out(page);
        glyphs::checked(page, &self.fonts).unwrap_or_else(|error| panic!("{tag}, {name}: {error}"));
    }

    /// Statements are the language's own; labels stand beside what the record and the practice wrote.
    fn is_statement(&self, passage: &reading::Passage) -> bool {
        self.practice.library(self.tag).unwrap().text(&passage.id).is_some()
    }

    /// What is told of each record, in both sizes of print; no text is cut off or stands on something else.
    fn assert_all_hold(&mut self, records: impl IntoIterator<Item = (String, Record)>, moment: Moment) {
        let mut pages = Vec::new();
        for (name, mut record) in records {
            for print in PRINTS {
                record.patient.print = print;
                pages.push((name.clone(), self.assert_holds(&name, &record, moment)));
            }
        }
        for pages in extremes(pages).chunks(8) {
            for (name, page) in pages {
                let laid_out = self.typesetter.places(page);
                laid_out.unwrap_or_else(|error| panic!("{}, {name}: {error}", self.tag));
            }
            typeset::forget(); // else the memory of all layouts adds up
        }
    }
}

/// Pages that must be laid out: from the longest down, each that holds a drawing, table, box or calendar which no page before
/// it held in its size of print. Running text runs nowhere else than on the longest page. `VITREOLEAF_EVERY=1`: all.
fn extremes(mut pages: Vec<(String, Document)>) -> Vec<(String, Document)> {
    if std::env::var_os("VITREOLEAF_EVERY").is_some() {
        return pages;
    }
    let length = |document: &Document| reading::read(document).iter().map(|passage| passage.text.len()).sum::<usize>();
    pages.sort_by_cached_key(|(_, page)| std::cmp::Reverse(length(page)));
    let mut seen = BTreeSet::new();
    let mut is_new = |page: &Document, block: &Block| {
        let running = matches!(
            block,
            Block::Heading { .. }
                | Block::Paragraph { .. }
                | Block::Lead { .. }
                | Block::List { .. }
                | Block::References { .. }
                | Block::PageBreak
                | Block::Annex
                | Block::Mark { .. }
        );
        !running && seen.insert(format!("{:?} {block:?}", page.print))
    };
    pages.retain(|(_, page)| page.blocks.iter().filter(|block| is_new(page, block)).count() > 0);
    pages
}

pub(super) const PRINTS: [Print; 2] = [Print::Standard, Print::Large];

/// The same tests for each language, so that they run side by side.
macro_rules! in_every_language {
    ($($name:ident $tag:literal)*) => {$(
        mod $name {
            use super::Language;

            #[test]
            fn each_eye_is_told_the_same_in_both_sizes_of_print() {
                super::each_eye(Language::new($tag));
            }

            #[test]
            fn each_aftercare_of_the_demo_says_the_same_in_both_sizes_of_print() {
                super::each_aftercare(Language::new($tag));
            }

            #[test]
            fn each_paper_is_one_page_for_staff_and_readers() {
                super::super::papers::each_paper($tag);
            }

            #[test]
            fn the_longest_name_fits() {
                super::longest_name(&Language::new($tag));
            }

            #[test]
            fn proofreading_finds_nothing_to_mend() {
                super::proofread($tag);
            }
        }
    )*

        #[test]
        fn no_language_is_forgotten() {
            assert_eq!([$($tag),*], WHOLE.map(|(tag, _)| tag));
        }
    };
}

in_every_language! {
    british "en-GB"
    spanish "es-US"
    french "fr"
    german "de"
    arabic "ar"
}

fn each_eye(mut language: Language) {
    language.assert_all_hold(eyes(), Moment::Before);
}

fn each_aftercare(mut language: Language) {
    let files = samples().into_keys();
    let names = files.filter_map(|path| path.strip_suffix("/case.toml").map(str::to_owned));
    let records = names.map(|name| (name.clone(), record(&name, |text| text)));
    let treated: Vec<_> = records.filter(|(_, record)| record.treatment.is_some()).collect();
    assert!(treated.len() > 4);
    language.assert_all_hold(treated, Moment::After);
}

/// A name as long as a record takes leaves room for everything else on the pages of everybody.
fn longest_name(language: &Language) {
    for print in PRINTS {
        let mut record = record("multifocal-glaucoma", |text| text);
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

/// What an editor is told by `proofread`: plain enough, no word too many, medical words explained.
fn proofread(tag: &str) {
    let practice = printing_in(&[SOURCE, tag], Default::default());
    let faults = proof::proofread(&practice, tag).unwrap();
    assert!(faults.is_empty(), "{tag}: {faults:?}");
}
