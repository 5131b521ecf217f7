//! No fact that a patient needs is lost between plan and page: every dose, visit, drug, phone and statement stands in the text
//! and HTML forms of the aftercare, whatever the layout.

use vitreoleaf::demo;
use vitreoleaf::document::{Document, Page, reading};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::render::{html, text};

use crate::plain::with_case;

const CASES: [&str; 5] = ["ring-implant", "natural-lens", "no-lens-late-day", "steroid-taper", "event-reissue"];

/// What must be read, in words of the patient's language; each entry with all its parts near each other.
fn facts(case: &Case) -> Vec<String> {
    let locale = &case.practice().library("en-US").unwrap().locale;
    let name = |key: &str| {
        let drug = case.practice().formulary.get(key).unwrap();
        format!("{} {}", drug.name, drug.strength)
    };
    let doses = case.plan.doses.iter();
    let mut facts: Vec<String> = doses
        .flat_map(|dose| {
            [
                locale.time(dose.at.time()).unwrap(),
                locale.weekday(dose.at.date()),
                locale.day(dose.at.date()),
                name(&dose.drug),
            ]
        })
        .collect();
    facts.extend(case.plan.visits.iter().map(|visit| locale.full_date(visit.date)));
    facts.extend(case.plan.visits.iter().filter_map(|visit| Some(locale.time(visit.at?).unwrap())));
    facts.extend(case.plan.uses.iter().map(|drug| locale.full_date(drug.last)));
    facts.extend(case.practice().profile.phones.iter().map(|phone| phone.number.clone()));
    facts.sort();
    facts.dedup();
    facts
}

fn spaced(text: &str) -> String {
    text.replace('\u{a0}', " ").split_whitespace().collect::<Vec<_>>().join(" ")
}

fn lost(facts: &[String], page: &str) -> Vec<String> {
    let page = spaced(page);
    facts.iter().filter(|fact| !page.contains(&spaced(fact))).cloned().collect()
}

fn aftercare(case: &Case) -> Document {
    let documents = case.documents(demo::issued(case.record(), Moment::After)).unwrap();
    documents.into_iter().find(|document| document.page == Page::Aftercare).unwrap()
}

#[test]
fn every_fact_of_the_plan_is_in_each_form() {
    for name in CASES {
        with_case(name, Moment::After, |case| {
            let (document, facts) = (aftercare(case), facts(case));
            assert!(facts.len() > 15, "{name}");
            assert_eq!(lost(&facts, &text::text(&document)), Vec::<String>::new(), "{name} as text");
            assert_eq!(lost(&facts, &html::html(&document)), Vec::<String>::new(), "{name} as HTML");
            let boxes =
                text::text(&document).lines().filter(|line| line.starts_with('[') && line.contains(" eye")).count();
            assert!(boxes >= case.plan.doses.len(), "{name}: {boxes} boxes for {} doses", case.plan.doses.len());
        });
    }
}

/// Every statement that was chosen for the page is read on it.
#[test]
fn every_statement_is_read() {
    for name in CASES {
        with_case(name, Moment::After, |case| {
            let document = aftercare(case);
            let passages = reading::read(&document);
            let said = case.said().unwrap();
            assert!(said.len() > 20, "{name}");
            for statement in said {
                assert!(passages.iter().any(|passage| passage.id == statement.id), "{name}: {}", statement.id);
            }
        });
    }
}

#[test]
fn a_lost_fact_is_noticed() {
    let facts = ["August 7".to_owned(), "555-0100".to_owned()];
    assert_eq!(lost(&facts, "Friday, August\u{a0}7"), ["555-0100"]);
}
