//! How many pages an aftercare takes, and that none of them is half empty: what hangs on a fridge is one sheet, and nobody
//! turns pages to find the next drop.

use std::collections::BTreeMap;

use vitreoleaf::demo;
use vitreoleaf::document::{Document, Page};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::practice::Practice;
use vitreoleaf::record::Record;
use vitreoleaf::record::person::Print;

use crate::packets::{answered, checked, practice, record};

/// The aftercare of a case, with an answer to every finding that would withhold the drop plan.
fn aftercare(practice: &Practice, record: Record) -> Document {
    let issued = demo::issued(&record, Moment::After);
    let open = {
        let checked = checked(practice, &record);
        let case = Case::new(&checked, Moment::After).unwrap();
        case.findings.withholding(Moment::After).map(|finding| finding.id.clone()).collect::<Vec<_>>()
    };
    let open: Vec<&str> = open.iter().map(String::as_str).collect();
    let record = answered(practice, record, Moment::After, &open);
    let checked = checked(practice, &record);
    let case = Case::new(&checked, Moment::After).unwrap();
    assert_eq!(case.withheld(), None);
    case.documents(issued).unwrap().into_iter().find(|page| page.page == Page::Aftercare).unwrap()
}

/// The demo's practice with each step of its taper as long as this, days.
fn with_steps_of(days: u32) -> Practice {
    let longer = |profile: String| match profile.split_once("id = \"taper\"") {
        Some((before, after)) => {
            let (own, rest) = after.split_once("[[visits]]").expect("visits follow");
            let own = own.replace("dates = 7 }", &format!("dates = {days} }}"));
            format!("{before}id = \"taper\"{own}[[visits]]{rest}")
        }
        None => profile,
    };
    practice(longer, BTreeMap::new())
}

fn plain(name: &str) -> Record {
    record(name, |text| text)
}

/// Front and back of two sheets.
#[test]
fn a_plan_of_one_week_takes_two_sheets() {
    let practice = practice(|text| text, BTreeMap::new());
    let pages = practice.typesetter().reach(&aftercare(&practice, plain("ring-implant"))).unwrap();
    assert!(pages.len() <= 4, "{pages:?}");
}

/// The signs stand behind the calendar: on page 2 after one of four weeks, on page 4 after one of twelve.
#[test]
fn a_calendar_of_four_weeks_takes_one_page_and_of_twelve_three() {
    for (days, signs) in [(7, 2), (21, 4)] {
        let practice = with_steps_of(days);
        let places = practice.typesetter().places(&aftercare(&practice, plain("steroid-taper"))).unwrap();
        assert_eq!(places["sign-floaters"], signs, "steps of {days} days");
    }
}

/// Only the last page may be short, in both sizes of print.
#[test]
fn no_page_is_half_empty() {
    let practice = practice(|text| text, BTreeMap::new());
    for name in ["ring-implant"] {
        for print in [Print::Standard, Print::Large] {
            let mut record = plain(name);
            record.patient.print = print;
            let pages = practice.typesetter().reach(&aftercare(&practice, record)).unwrap();
            let (_, all_but_last) = pages.split_last().unwrap();
            assert!(all_but_last.iter().all(|reach| *reach >= 0.5), "{name}, {print:?}: {pages:?}");
        }
    }
}
