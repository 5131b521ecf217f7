//! What holds of every language that comes whole with the program, for every eye of `tests/consent/eyes.toml` and both
//! sizes of print.

use vitreoleaf::assets::Assets;
use vitreoleaf::content::translation::SOURCE;
use vitreoleaf::document::{Document, reading};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::practice::Practice;
use vitreoleaf::proof;
use vitreoleaf::proof::wording::Wording;
use vitreoleaf::record::{Record, person::Print};
use vitreoleaf::render::fonts::Fonts;
use vitreoleaf::render::pdf;

use super::parity::Readers;
use super::{assert_parity, printing_in};
use crate::consent::eyes;

/// Languages with all their texts, and whether they are translations: a variant of the source is none.
pub(crate) const WHOLE: [(&str, bool); 5] =
    [("en-GB", false), ("es-US", true), ("fr", true), ("de", true), ("ar", true)];

/// What the fonts of the program cannot show: its pages need a font of the practice's own, here DejaVu Sans.
const OTHER_SCRIPT: &str = "ar";

fn fonts(tag: &str) -> Fonts {
    let own = [("fonts/regular.ttf", dejavu::sans::regular()), ("fonts/bold.ttf", dejavu::sans::bold())];
    let own = own.map(|(path, data)| (path.to_owned(), data.to_vec()));
    let needed = own.into_iter().filter(|_| tag == OTHER_SCRIPT).collect();
    Fonts::of(&Assets::default().with_fonts(needed)).unwrap()
}

fn patient_page(practice: &Practice, record: &Record) -> Document {
    Case::new(practice, record, Moment::Before).unwrap().unissued().unwrap()
}

/// ACA-5: the same statements in the same order with the same numbers, dates and times as in US English; nothing that the
/// language's own wording rules forbid; a translation that nobody has reviewed says on its pages that it is a draft.
#[test]
fn each_eye_is_told_the_same_in_every_language_and_size_of_print() {
    for (tag, translated) in WHOLE {
        let practice = printing_in(&[SOURCE, tag], Default::default());
        let readers = Readers::of(&practice);
        let rules = Wording::load(&practice.assets, tag).unwrap();
        let fonts = fonts(tag);
        for (name, mut record) in eyes() {
            for print in [Print::Standard, Print::Large] {
                record.patient.print = print;
                record.patient.language = SOURCE.into();
                let source = patient_page(&practice, &record);
                record.patient.language = tag.into();
                let page = patient_page(&practice, &record);
                assert_parity(&readers, &page, &source);
                assert_eq!(page.draft, translated, "{tag}, {name}");
                assert_eq!(page.banner.iter().filter(|line| line.language == tag).count(), usize::from(translated));
                for passage in reading::read(&page).iter().filter(|passage| is_statement(&practice, tag, passage)) {
                    let hits = rules.lines(&passage.text);
                    assert!(hits.is_empty(), "{tag}, {name}: {hits:?} in {:?}", passage.text);
                }
                // Every glyph is there, and no text is cut off or stands on something else.
                pdf::places(&practice.assets, &fonts, &page).unwrap_or_else(|error| panic!("{tag}, {name}: {error}"));
            }
        }
        pdf::forget();
    }
}

/// Statements are the language's own; labels stand beside what the record and the practice wrote.
fn is_statement(practice: &Practice, tag: &str, passage: &reading::Passage) -> bool {
    practice.library(tag).unwrap().text(&passage.id).is_some()
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
