//! Nobody who was treated leaves without warning signs and phones: what cannot be laid out is told line after line, and what
//! cannot be dated is said. Before the treatment the same stops the page.

use std::collections::BTreeMap;

use vitreoleaf::demo;
use vitreoleaf::document::sheet::Withheld;
use vitreoleaf::document::{Block, Page};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::{Case, Form, Instead};
use vitreoleaf::render::text::text;

use super::packets::{checked, made, practice, reason, record};

fn same(text: String) -> String {
    text
}

/// Headings, paragraphs and lists alone, the signs in front, and every line that the usual form has.
#[test]
fn nothing_is_lost_line_after_line() {
    let practice = practice(same, BTreeMap::new());
    for name in ["ring-implant", "steroid-taper", "natural-lens", "event-reissue", "asthma-drops", "no-lens-late-day"] {
        let record = record(name, same);
        let checked = checked(&practice, &record);
        let case = Case::new(&checked, Moment::After).unwrap();
        for usual in case.documents(demo::issued(&record, Moment::After)).unwrap() {
            let lined = case.in_lines(&usual).unwrap().expect("the patient was treated");
            let simple =
                |block: &Block| matches!(block, Block::Heading { .. } | Block::Paragraph { .. } | Block::List { .. });
            assert!(lined.blocks.iter().all(simple), "{name}");
            let told = text(&lined);
            // A code that is not drawn needs no camera.
            for line in text(&usual).lines().filter(|line| !line.is_empty() && !line.contains("camera")) {
                assert!(told.contains(line), "{name}, {:?}: {line}", usual.page);
            }
            if usual.page == Page::Aftercare {
                let place = |words: &str| told.find(words).unwrap_or_else(|| panic!("{name}: {words}"));
                assert!(place("plain lines") < place("Ask us for the usual form"));
                assert!(place("a number below") < place("555"), "{name}: phones");
                assert!(
                    place("A shadow or curtain") < told.find("[ ]").unwrap_or(told.len()),
                    "{name}: signs before doses"
                );
            }
        }
        assert!(Case::new(&checked, Moment::Before).unwrap().in_lines(&case.unissued().unwrap()).unwrap().is_none());
    }
}

/// Hours that leave no night, and a day too short for its drops, which a clinician is asked about first, withhold the drop plan;
/// signs, phones and visits print.
#[test]
fn a_plan_that_cannot_be_dated_still_leaves_signs_and_visits() {
    let practice = practice(same, BTreeMap::new());
    for (sleeps, why) in [("06:30", Withheld::Undated), ("08:00", Withheld::Findings)] {
        let record =
            record("ring-implant", |text| text.replace("sleeps = \"22:30\"", &format!("sleeps = \"{sleeps}\"")));
        let checked = checked(&practice, &record);
        assert!(Case::new(&checked, Moment::Before).is_err(), "{sleeps}");
        let packet = made(&practice, &record, Moment::After);
        assert_eq!(reason(&packet), Some(why), "{sleeps}");
        let issued = demo::issued(&record, Moment::After);
        let packet = Case::new(&checked, Moment::After).unwrap().packet_as(&[Form::Text], issued).unwrap();
        let aftercare = String::from_utf8(packet.files[0].bytes.clone()).unwrap();
        for words in ["A shadow or curtain", "555", "August 14, 2026"] {
            assert!(aftercare.contains(words), "{sleeps}: {words}");
        }
        assert!(!aftercare.contains("prednisolone acetate 1%, Right eye"), "{sleeps}");
    }
}

/// A text of the practice that cannot be said for this patient is left out of the aftercare, which says so and whom to ask; the
/// surgeon's sheet and the report say so too. In the consent it stops the page.
#[test]
fn a_text_that_cannot_be_said_costs_a_treated_patient_no_page() {
    let grows = "{% set a = 'x' %}".to_owned() + &"{% set a = a ~ a %}".repeat(40) + "{{ a }}";
    for (statement, moment) in [("living-sport", Moment::After), ("risk-retina", Moment::Before)] {
        let own = BTreeMap::from([(format!("locales/en-US/statements/{statement}.md"), grows.clone())]);
        let practice = practice(same, own);
        let record = record("ring-implant", same);
        let checked = checked(&practice, &record);
        let issued = demo::issued(&record, moment);
        let packet = Case::new(&checked, moment).and_then(|case| case.packet_as(&[Form::Text], issued));
        if moment == Moment::Before {
            assert!(packet.is_err_and(|why| why.to_string().contains("risk-retina.md, line 1")));
            continue;
        }
        let packet = packet.unwrap();
        let words = |at: usize| String::from_utf8(packet.files[at].bytes.clone()).unwrap();
        let (aftercare, surgeon) = (words(0), words(1));
        assert!(aftercare.contains("A part of these pages is missing") && aftercare.contains("A shadow or curtain"));
        assert!(!aftercare.contains("hard exercise"), "{aftercare}");
        assert!(surgeon.contains("A page for the patient lacks a text"), "{surgeon}");
        let [refused] = &packet.refused_pages[..] else { panic!("{:?}", packet.refused_pages) };
        assert!(refused.instead == Instead::Rest && refused.says().contains("living-sport.md, line 1"), "{refused:?}");
    }
}

#[cfg(feature = "typeset")]
mod on_paper {
    use vitreoleaf::assets::Assets;
    use vitreoleaf::packet::{Output, Packet};
    use vitreoleaf::render::apart::Limits;

    use super::super::packets::with_layout;
    use super::*;

    /// Words of a practice that leave the name no room: head over name on every page.
    const FAULT: &str = "[eye]\nright_cap = \"Right eye, which is the eye on the side of the right hand when you look out of it yourself\"\n";

    fn with_fault() -> BTreeMap<String, String> {
        BTreeMap::from([("locales/en-US/words.toml".to_owned(), FAULT.to_owned())])
    }

    fn pages(packet: &Packet) -> Vec<Page> {
        packet.refused_pages.iter().filter(|page| page.instead == Instead::Lines).map(|page| page.page).collect()
    }

    fn file(packet: &Packet, page: Page) -> &[u8] {
        &packet.files.iter().find(|file| file.output == Output::Page(page, Form::Pdf)).expect("it is made").bytes
    }

    /// A text of the practice that stands on the name: all pages print after the treatment, none before it.
    #[test]
    fn a_text_that_stands_on_another_costs_a_treated_patient_no_page() {
        let practice = practice(same, with_fault());
        let record = record("ring-implant", same);
        let checked = checked(&practice, &record);
        let case = Case::new(&checked, Moment::After).unwrap();
        let packet = case.packet(demo::issued(&record, Moment::After)).unwrap();
        let all = [Page::Aftercare, Page::Surgeon, Page::Desk];
        assert_eq!(pages(&packet), all);
        assert!(all.iter().all(|page| file(&packet, *page).starts_with(b"%PDF")));
        assert!(packet.refused_pages[0].why.contains("stands on other text"), "{:?}", packet.refused_pages);
        let refused = case.refused_pages().unwrap();
        assert!(refused.len() == 3 && refused.iter().all(|page| page.instead == Instead::Lines), "{refused:?}");
        assert!(refused[0].says().starts_with("aftercare is printed line after line"));
        let before = Case::new(&checked, Moment::Before).unwrap();
        assert!(before.packet(demo::issued(&record, Moment::Before)).is_err());
        assert!(before.refused_pages().unwrap().iter().all(|page| page.instead == Instead::Nothing));
    }

    /// A layout of the practice's own that stops, everywhere or at the calendar alone: the built-in one tells line after line,
    /// and the surgeon's sheet says so.
    #[test]
    fn a_layout_that_stops_costs_a_treated_patient_no_page() {
        let record = record("ring-implant", same);
        let issued = demo::issued(&record, Moment::After);
        let built_in = Assets::default().get("templates/pages/calendar.typ").unwrap().into_owned();
        let stops = built_in + "\n#let calendar(theme, it) = panic(it)";
        let all = vec![Page::Aftercare, Page::Surgeon, Page::Desk];
        for (name, text, lined) in
            [("page.typ", "#panic()".to_owned(), all), ("calendar.typ", stops, vec![Page::Aftercare])]
        {
            let practice = with_layout(name, text, Limits::default());
            let checked = checked(&practice, &record);
            let case = Case::new(&checked, Moment::After).unwrap();
            let packet = case.packet(issued).unwrap();
            assert_eq!(pages(&packet), lined, "{name}");
            let alone = case.packet_of(&[Form::Pdf], &[Output::Page(Page::Surgeon, Form::Pdf)], issued).unwrap();
            assert_ne!(file(&alone, Page::Surgeon), file(&packet, Page::Surgeon), "{name}: the sheet says so");
            let data = &packet.files.iter().find(|file| file.output == Output::Data).unwrap().bytes;
            let data: serde_json::Value = serde_json::from_slice(data).unwrap();
            assert_eq!(data["documents"][0]["in_lines"], true, "{name}");
        }
    }
}
