//! Pages from right to left, held against the bidirectional algorithm (Unicode Standard Annex 9) as the crate
//! `unicode-bidi` carries it out.

use std::collections::BTreeMap;

use unicode_bidi::{BidiInfo, Level};
use vitreoleaf::assets::Assets;
use vitreoleaf::content::locale::Locale;
use vitreoleaf::document::reading;
use vitreoleaf::facts::Moment;

use super::parity::Readers;
use super::{assert_parity, documents, in_language, printing_in, strings};

/// A text as it stands on the line, from left to right, without the marks that set runs apart.
fn on_the_line(text: &str) -> String {
    let bidi = BidiInfo::new(text, Some(Level::rtl()));
    let line = bidi.reorder_line(&bidi.paragraphs[0], 0..text.len());
    line.chars().filter(|c| !matches!(c, '\u{2066}'..='\u{2069}')).collect()
}

/// Where the reader of an Arabic line meets a word: how many letters stand to the right of it.
fn met(text: &str, word: &str) -> usize {
    let turned: String = word.chars().rev().collect();
    let line = on_the_line(text);
    let at = line.find(word).or_else(|| line.find(&turned)).unwrap_or_else(|| panic!("{word} in {line}"));
    line[at..].chars().count()
}

fn assert_order(text: &str, words: &[&str]) {
    assert!(words.is_sorted_by_key(|word| met(text, word)), "{words:?} in {text:?}");
}

/// The same as in English, and Latin text set apart.
#[test]
fn an_arabic_page_says_the_same_and_sets_latin_text_apart() {
    let practice = printing_in(&["en-US", "ar"], BTreeMap::new());
    for moment in [Moment::Before, Moment::After] {
        let documents = documents(&practice, &in_language("ring-implant", "ar"), moment);
        assert!(documents[0].right_to_left && !documents[1].right_to_left);
        assert_parity(&Readers::of(&practice), &documents[0], &documents[1]);
        let text = strings(&documents[0]).concat();
        let apart = match moment {
            Moment::Before => "\u{2066}555-0100\u{2069}",
            Moment::After => "\u{2066}prednisolone acetate 1%\u{2069}",
        };
        assert!(text.contains(apart), "a phone number or a strength would turn around: {apart}");
    }
}

/// Items of a list are met in their order, whatever letters they are written in; a drug before its strength.
#[test]
fn a_list_is_read_in_its_order() {
    let arabic = Locale::load(&Assets::default(), "ar").unwrap();
    for items in [["reading", "driving", "screens"], ["reading", "\u{642}\u{64A}\u{627}\u{62F}\u{629}", "screens"]] {
        let list = arabic.list(items);
        assert_order(&list, &items);
        assert_order(&format!("\u{647}\u{630}\u{627} {}.", arabic.set_apart(&list)), &items);
    }
}

/// Days before hours before the place to phone: texts filled into texts keep the direction of the language.
#[test]
fn texts_within_texts_are_read_in_their_order() {
    let practice = printing_in(&["en-US", "ar"], BTreeMap::new());
    let page = &documents(&practice, &in_language("multifocal-glaucoma", "ar"), Moment::Before)[0];
    let passages = reading::read(page);
    let phone = passages.iter().find(|passage| passage.text.contains("555-0100")).unwrap();
    let words = [
        "\u{627}\u{644}\u{627}\u{62B}\u{646}\u{64A}\u{646}",
        "8:00",
        "5:00",
        "Front desk",
        "555-0100",
        "Eye doctor on call",
        "555-0199",
    ];
    let held: Vec<&str> = words.into_iter().filter(|word| phone.text.contains(word)).collect();
    assert!(held.len() > 3, "{}", phone.text);
    assert_order(&phone.text, &held);
}

/// Not vacuous: without anything set apart a list of Latin words is met from its end.
#[test]
fn a_wrong_order_is_noticed() {
    assert!(met("reading \u{648}driving", "reading") < met("reading \u{648}driving", "driving"));
    assert!(
        met("\u{2068}reading \u{648}driving\u{2069}", "reading")
            > met("\u{2068}reading \u{648}driving\u{2069}", "driving")
    );
}
