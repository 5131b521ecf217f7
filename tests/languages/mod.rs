//! Languages: what stands in for what, what state a translation is in, that two languages of a packet say the same, and
//! that no text of a page escapes the files.

#[cfg(feature = "typeset")]
pub(crate) mod every;
#[cfg(feature = "typeset")]
pub(crate) mod papers;
mod parity;
mod pseudo;
mod right_to_left;
mod wording;

use std::collections::{BTreeMap, BTreeSet};

use chrono::{NaiveDate, NaiveTime};
use vitreoleaf::assets::Assets;
use vitreoleaf::content::Library;
use vitreoleaf::content::folders::Folders;
use vitreoleaf::content::locale::Locale;
use vitreoleaf::content::translation::{State, texts};
use vitreoleaf::demo;
use vitreoleaf::document::{Block, Document, Page, reading};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::practice::{Checked, Practice};
use vitreoleaf::record::Record;
use vitreoleaf::render::{RenderError, glyphs, html, text};

use crate::packets::{assembled, checked, made, practice, practice_of, record};
use parity::Readers;

/// Languages with all their texts, and whether they are translations: a variant of the source is none.
pub(crate) const WHOLE: [(&str, bool); 5] =
    [("en-GB", false), ("es-US", true), ("fr", true), ("de", true), ("ar", true)];

/// The demo's practice with other languages, the clinic's own first, and with files of its own.
pub(crate) fn printing_in(languages: &[&str], own: BTreeMap<String, String>) -> Practice {
    printing_in_with(languages, |text| text, own)
}

/// The same with a change of its profile.
pub(crate) fn printing_in_with(
    languages: &[&str],
    change: impl Fn(String) -> String,
    own: BTreeMap<String, String>,
) -> Practice {
    let own_texts = languages.iter().find(|tag| **tag != "en-US" && **tag != "en-GB");
    practice(
        |text| {
            let text = change(text).replace("languages = [\"en-US\"]", &format!("languages = {languages:?}"));
            match own_texts {
                Some(tag) => text.replace("text = { en-US =", &format!("text = {{ {tag} = \"«»\", en-US =")),
                None => text,
            }
        },
        own,
    )
}

fn in_language(case: &str, tag: &str) -> Record {
    record(case, |text| text.replace("language = \"en-US\"", &format!("language = \"{tag}\"")))
}

fn documents(practice: &Practice, record: &Record, moment: Moment) -> Vec<Document> {
    Case::new(&checked(practice, record), moment).unwrap().documents(demo::issued(record, moment)).unwrap()
}

fn strings(document: &Document) -> Vec<String> {
    fn gather(value: &serde_json::Value, found: &mut Vec<String>) {
        match value {
            serde_json::Value::String(text) => found.push(text.clone()),
            serde_json::Value::Array(items) => items.iter().for_each(|item| gather(item, found)),
            // Kinds, ids of marks and the like are no text.
            serde_json::Value::Object(fields) => {
                let mark =
                    fields.get("t").is_some_and(|kind| kind == "mark") || fields.get("kind") == Some(&"mark".into());
                let no_text = ["kind", "t", "page", "paper", "print", "language", "weight", "side", "sun", "mark_id"];
                let texts = fields.iter().filter(|(key, _)| !mark && !no_text.contains(&key.as_str()));
                texts.for_each(|(_, value)| gather(value, found));
            }
            _ => {}
        }
    }
    let mut document = document.clone();
    for block in &mut document.blocks {
        match block {
            Block::Signatures { signers, .. } => signers.iter_mut().for_each(|signer| signer.mark.clear()),
            Block::Lines { items } => items.iter_mut().for_each(|item| item.mark.clear()),
            _ => {}
        }
    }
    let mut found = Vec::new();
    gather(&serde_json::to_value(document).unwrap(), &mut found);
    found
}

/// UK English as CLDR writes it (day before month, 24 hours), its own spelling, and all else from US English.
#[test]
fn a_variant_is_a_small_folder() {
    let british = Locale::load(&Assets::default(), "en-GB").unwrap();
    let day = NaiveDate::from_ymd_opt(2026, 8, 7).unwrap();
    assert_eq!(british.full_date(day), "Friday, 7\u{a0}August 2026");
    assert_eq!(british.time(NaiveTime::from_hms_opt(16, 30, 0).unwrap()).unwrap(), "16:30");
    let (uk, us) = ["en-GB", "en-US"].map(|tag| Library::load(&Assets::default(), tag).unwrap()).into();
    assert!(us.text("eye-studies").unwrap().contains("center") && !us.text("eye-studies").unwrap().contains("centre"));
    assert!(uk.text("eye-studies").unwrap().contains("centre") && !uk.text("eye-studies").unwrap().contains("center"));
    assert_eq!(uk.text("step-wash"), us.text("step-wash"));
    let practice = printing_in(&["en-GB"], BTreeMap::new());
    let documents = documents(&practice, &in_language("ring-implant", "en-GB"), Moment::Before);
    assert!(documents.iter().all(|document| !document.draft), "a variant is no translation");
    assert_eq!(documents[0].language, "en-GB");
    assert_eq!(
        documents.iter().map(|document| document.page).collect::<Vec<_>>(),
        [Page::Consent, Page::Surgeon, Page::Desk]
    );
}

/// A built-in variant is compared with its source again whenever the source changes.
#[test]
fn no_variant_that_comes_with_the_program_is_stale() {
    let library = Library::load(&Assets::default(), "en-US").unwrap();
    let ids: Vec<String> = library.statements.iter().map(|statement| statement.row.id.clone()).collect();
    let open: Vec<_> = texts(&Folders::new(&Assets::default()), "en-GB", &ids).unwrap();
    let open: Vec<_> = open.iter().filter(|text| text.state != State::Current).map(|text| &text.id).collect();
    assert!(
        open.is_empty(),
        "read en-GB again against en-US: {open:?}, then vitreoleaf translations --entries translated"
    );
}

#[test]
fn another_region_stands_in_and_another_language_never() {
    let practice = printing_in(&["en-US"], BTreeMap::new());
    let documents = documents(&practice, &in_language("ring-implant", "en-AU"), Moment::Before);
    assert_eq!(documents[0].language, "en-US");
    let spanish = in_language("ring-implant", "es-US");
    let refused = Checked::of(&spanish, practice).map(|_| ()).unwrap_err().to_string();
    assert!(refused.contains("no language"), "{refused}");
    // A statement without its text in the language is refused, whatever other languages there are.
    let mut own = pseudo::files();
    own.remove("locales/el/statements/risk-lens.md");
    let refused = Library::load(&Assets::new(own), pseudo::TAG).map(|_| ()).unwrap_err().to_string();
    assert!(refused.contains("locales/el/statements/risk-lens.md is missing"), "{refused}");
}

/// The way of one text: made, recorded, reviewed, changed, and its source changed.
#[test]
fn a_translation_has_a_state() {
    let ids = vec!["step-wash".to_owned()];
    let folder = |file: &str| format!("locales/el/{file}");
    let state = |files: &[(String, String)]| {
        let assets = Assets::new(files.iter().cloned().collect());
        let texts = texts(&Folders::new(&assets), "el", &ids).unwrap();
        texts.into_iter().find(|text| text.id == "step-wash").unwrap()
    };
    let text = (folder("statements/step-wash.md"), "Ẁàšħ.".to_owned());
    assert_eq!(state(&[]).state, State::Missing);
    let made = state(std::slice::from_ref(&text));
    assert_eq!(made.state, State::Unrecorded);
    let translated = format!(
        "[[translated]]\nby = \"A\"\non = \"2026-11-25\"\n[translated.texts]\nstep-wash = \"{}\"\n",
        made.source
    );
    let entry = (folder("translation.toml"), translated.clone());
    let recorded = state(&[text.clone(), entry.clone()]);
    assert_eq!((recorded.state, recorded.translated.unwrap().by.as_str()), (State::Unreviewed, "A"));
    let reviewed = format!(
        "{translated}[[reviewed]]\nby = \"B\"\nqualification = \"translator\"\non = \"2026-12-01\"\n[reviewed.texts]\nstep-wash = \"{}\"\n",
        made.pair
    );
    let entry = (folder("translation.toml"), reviewed);
    let done = state(&[text.clone(), entry.clone()]);
    assert_eq!((done.state, done.reviewed.unwrap().by.as_str()), (State::Current, "B"));
    // A word changed after the review needs a new review.
    let changed = (text.0.clone(), "Ẁàšħ ñóŵ.".to_owned());
    assert_eq!(state(&[changed, entry.clone()]).state, State::Unreviewed);
    // The source changed: what was translated and reviewed no longer says what it says.
    let source = ("locales/en-US/statements/step-wash.md".to_owned(), "Wash your hands twice.".to_owned());
    assert_eq!(state(&[text, entry, source]).state, State::Stale);
}

/// 45 CFR 92.201(c)(3), ACA-1: what no qualified human has reviewed is not given to a patient.
#[test]
fn an_unreviewed_translation_says_so_in_both_languages_on_every_page_of_the_patient() {
    let practice = printing_in(&["en-US", pseudo::TAG], pseudo::files());
    let case = in_language("ring-implant", pseudo::TAG);
    for moment in [Moment::Before, Moment::After] {
        let documents = documents(&practice, &case, moment);
        let [patient, second, surgeon, desk] = &documents[..] else { panic!("{}", documents.len()) };
        let banner = banner_of(patient);
        assert!(
            banner.contains("«Đřàƒţ ţřàñšłàţíóñ.") && banner.contains("Draft translation. Not for patients"),
            "{banner}"
        );
        assert!(patient.draft && !second.draft && !surgeon.draft && !desk.draft);
        assert!(strings(desk).iter().any(|text| text.starts_with("Drafts: give the patient none")));
        assert!(banner_of(second).contains("The patient's own page is in"), "{:?}", second.banner);
    }
    let packet = made(&practice, &case, Moment::After);
    let calendar = packet.files.iter().find(|file| file.name.ends_with(".ics")).unwrap();
    let calendar = String::from_utf8(calendar.bytes.clone()).unwrap().replace("\r\n ", "");
    assert!(calendar.contains("Draft translation. Not for patients"), "the calendar file is a page too");
}

fn banner_of(document: &Document) -> String {
    document.banner.iter().map(|line| format!("{} ", line.text)).collect()
}

/// ACA-5: one consent in two languages; the clinic's copy bears the same id and says the same.
#[test]
fn both_languages_of_a_packet_say_the_same() {
    let practice = printing_in(&["en-US", pseudo::TAG], pseudo::files());
    for (case, moment) in [
        ("ring-implant", Moment::Before),
        ("ring-implant", Moment::After),
        ("multifocal-glaucoma", Moment::Before),
        ("asthma-drops", Moment::After),
    ] {
        let record = in_language(case, pseudo::TAG);
        let documents = documents(&practice, &record, moment);
        assert_parity(&Readers::of(&practice), &documents[0], &documents[1]);
        let packet = made(&practice, &record, moment);
        let names: Vec<&str> = packet.files.iter().filter_map(|file| file.name.split('.').next()).collect();
        let word = documents[0].page.word();
        for end in [word.to_owned(), format!("{word}-clinic")] {
            assert!(names.iter().any(|name| name.ends_with(&end)), "{names:?}");
        }
    }
}

/// The comparison sees a number, a date and a passage that differ.
#[test]
fn the_comparison_of_two_languages_can_fail() {
    let practice = printing_in(&["en-US", pseudo::TAG], pseudo::files());
    let documents = documents(&practice, &in_language("ring-implant", pseudo::TAG), Moment::After);
    let readers = Readers::of(&practice);
    let wanted = readers.held(&documents[0]);
    assert_eq!(readers.held(&documents[1]), wanted);
    let mut damaged = documents[1].clone();
    damaged.blocks.retain(|block| !matches!(block, Block::Calendar(_)));
    assert_ne!(readers.held(&damaged), wanted);
    let mut damaged = documents[1].clone();
    for block in &mut damaged.blocks {
        if let Block::Calendar(calendar) = block {
            calendar.days[1].date = calendar.days[2].date.clone();
        }
    }
    assert_ne!(readers.held(&damaged), wanted);
}

fn assert_parity(readers: &Readers, patient: &Document, second: &Document) {
    assert_ne!(patient.language, second.language);
    assert_eq!(patient.page, second.page);
    let (one, other) = (readers.held(patient), readers.held(second));
    assert!(one.iter().map(|(_, numbers)| numbers.len()).sum::<usize>() > 10, "too few numbers to compare");
    for (one, other) in one.iter().zip(&other) {
        assert_eq!(one, other);
    }
    assert_eq!(one.len(), other.len());
    let id = |document: &Document| {
        let named = document.footer.document.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-'));
        named.map(str::to_owned).find(|word| word.starts_with("EX-")).unwrap()
    };
    assert_eq!(id(patient), id(second));
}

/// What a language lacks stops the page: nobody gets a page that is half in another language.
#[test]
fn a_language_that_is_not_whole_prints_nothing() {
    let refused = Library::load(&Assets::default(), "el").map(|_| ()).unwrap_err().to_string();
    assert!(refused.contains("is missing"), "{refused}");
}

/// A name in a script without a font names its character, not itself, and says what to do; the name in Latin letters then
/// stands on every page with the record number.
#[test]
fn a_name_that_no_font_shows_is_printed_in_latin_letters() {
    let practice = printing_in(&["en-US"], BTreeMap::new());
    let name = "\u{738B}\u{5C0F}\u{660E}";
    let case = record("ring-implant", |text| text.replace("name = \"Rosa Beispiel\"", &format!("name = \"{name}\"")));
    let refused = glyphs::checked(&documents(&practice, &case, Moment::Before)[0], &practice.fonts).unwrap_err();
    assert_eq!(refused, RenderError::Name('\u{738B}'));
    let refused = refused.to_string();
    assert!(refused.contains("U+738B") && refused.contains("patient.latin_name"), "{refused}");
    assert!(!refused.contains(name), "a name stands in a message");
    let mut case = case;
    case.patient.latin_name = Some("Wang Xiaoming".into());
    assert_eq!(made(&practice, &case, Moment::Before).withheld, None);
    for document in documents(&practice, &case, Moment::Before) {
        assert_eq!(document.header.name, "Wang Xiaoming");
        assert!(document.header.identifiers.contains("000-101"));
    }
    // Where a font has the script the name itself is printed.
    case.patient.name = "Ρόζα Παράδειγμα".into();
    assert_eq!(documents(&practice, &case, Moment::Before)[0].header.name, "Ρόζα Παράδειγμα");
}

/// What a practice puts into its folders is looked at when it loads: a font that is none, one of the built-in family, a text
/// that would turn the text around it.
#[test]
fn fonts_and_texts_of_a_practice_are_refused_when_they_load() {
    let profile = vitreoleaf::assets::samples()["practice/profile.toml"].clone();
    let font =
        |data: &[u8]| Assets::default().with_fonts(BTreeMap::from([("fonts/own.ttf".to_owned(), data.to_vec())]));
    let turned =
        BTreeMap::from([("locales/en-US/statements/step-wash.md".to_owned(), "Wash \u{202E}hands.".to_owned())]);
    for (assets, told) in [
        (font(b"no font"), "fonts/own.ttf is no font"),
        (font(notosans::REGULAR_TTF), "set in Noto Sans already"),
        (Assets::new(turned), "U+202E"),
    ] {
        let refused = assembled(&profile, assets).map(|_| ()).unwrap_err().to_string();
        assert!(refused.contains(told), "{refused}");
    }
    // A font is part of what a clinician confirms: it says what a digit looks like.
    let plain = practice_of(&profile, Assets::default());
    let own = practice_of(&profile, font(dejavu::sans::regular()));
    assert_ne!(plain.clinical_hash(), own.clinical_hash());
}

/// Plain text and HTML hold every word that is read aloud from the page, and nothing of a record is markup.
#[test]
fn text_and_html_leave_nothing_out() {
    let practice = printing_in(&["en-US"], BTreeMap::new());
    for case in ["ring-implant", "multifocal-glaucoma", "asthma-drops"] {
        let record = record(case, |text| text.replacen("name = \"", "name = \"<b>&\\\"", 1));
        for moment in demo::moments(&record) {
            for document in documents(&practice, &record, moment) {
                let markup = html::html(&document);
                assert!(!markup.contains("<b>") && markup.contains("&lt;b&gt;&amp;&quot;"), "a name is no markup");
                assert_nothing_left_out(&document);
            }
        }
    }
}

fn assert_nothing_left_out(document: &Document) {
    let markup = html::html(document);
    let told = markup.split('<').filter_map(|part| part.split_once('>')).map(|(_, text)| text);
    let labels = markup.split("aria-label=\"").skip(1).filter_map(|part| part.split('"').next());
    let told = told.chain(labels).collect::<Vec<_>>().join(" ");
    let told = told.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&");
    for (form, told) in [("text", text::text(document)), ("html", told)] {
        let told = words(&told);
        for passage in reading::read(document).iter().filter(|passage| passage.block != "figures") {
            let lost: Vec<String> = words(&passage.text).difference(&told).cloned().collect();
            assert!(lost.is_empty(), "{form} of {}: {lost:?} of {passage:?}", document.page.word());
        }
    }
}

fn words(text: &str) -> BTreeSet<String> {
    text.split(|c: char| !c.is_alphanumeric()).map(str::to_owned).collect()
}

/// Text that does not come from the files of the language: what the record, the profile, the formulary and the sources
/// hold is known; every other plain letter on a page of the patient or the desk escaped.
#[test]
fn no_text_of_a_page_escapes_the_files_of_its_language() {
    let practice = printing_in(&[pseudo::TAG], pseudo::files());
    for case in ["ring-implant", "multifocal-glaucoma"] {
        let record = in_language(case, pseudo::TAG);
        let known = known_words(&practice, &record);
        for moment in demo::moments(&record) {
            for document in documents(&practice, &record, moment) {
                // The whole page lays out, too: nothing in it depends on the words of one language.
                #[cfg(feature = "typeset")]
                practice.typesetter().places(&document).unwrap();
                if document.page == Page::Surgeon {
                    continue; // rules and drugs are written in the clinic's language, in templates/
                }
                for text in strings(&document) {
                    // What holds a digit is a number or the hash of the texts.
                    let words = text.split(|c: char| !c.is_alphanumeric()).filter(|word| word.len() > 1);
                    let words = words.filter(|word| word.chars().all(char::is_alphabetic));
                    let escaped = words.filter(|word| word.is_ascii() && !known.contains(&word.to_lowercase()));
                    let escaped: Vec<&str> = escaped.collect();
                    assert!(escaped.is_empty(), "{}: {escaped:?} in {text:?}", document.page.word());
                }
            }
        }
    }
}

/// Words of names, drugs and sources, and what measures are called everywhere.
fn known_words(practice: &Practice, record: &Record) -> BTreeSet<String> {
    let drugs = practice.formulary.drugs().map(|drug| format!("{} {}", drug.shown_name(), drug.strength));
    let evidence = &practice.library(pseudo::TAG).unwrap().evidence;
    let cited = evidence.values().filter_map(|entry| entry.reference().ok().map(str::to_owned));
    let names = [&serde_json::to_value(record).unwrap(), &serde_json::to_value(&practice.profile.practice).unwrap()];
    let names = names.into_iter().flat_map(values);
    let people = practice.profile.surgeons.iter().map(|surgeon| format!("{} {}", surgeon.name, surgeon.role));
    let phones = practice.profile.phones.iter().map(|phone| phone.who.clone());
    let place = practice.profile.out_of_hours.iter().map(|place| format!("{} {}", place.name, place.address.join(" ")));
    let pages = ["before consent aftercare after desk".to_owned()];
    let all = drugs.chain(cited).chain(names).chain(people).chain(phones).chain(place).chain(pages);
    let all = all.collect::<Vec<_>>().join(" ");
    all.split(|c: char| !c.is_alphabetic()).map(str::to_lowercase).collect()
}

fn values(value: &serde_json::Value) -> Vec<String> {
    match value {
        serde_json::Value::String(text) => vec![text.clone()],
        serde_json::Value::Array(items) => items.iter().flat_map(values).collect(),
        serde_json::Value::Object(fields) => fields.values().flat_map(values).collect(),
        _ => Vec::new(),
    }
}
