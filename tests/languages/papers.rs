//! The papers around a treatment where patient, clinic and readers of letters all use one of the languages: each of them in it,
//! by its wording rules, laid out whole on one page.

use std::collections::BTreeSet;

use vitreoleaf::assets::samples;
use vitreoleaf::content::folders::SOURCE;
use vitreoleaf::demo;
use vitreoleaf::diag::SourceFile;
use vitreoleaf::document::{Document, Page};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::{Case, suitability};
use vitreoleaf::practice::Draft;
use vitreoleaf::record::{Record, person::Print};
use vitreoleaf::render::pdf::Stamp;
use vitreoleaf::render::typeset;

use super::every::{Language, PRINTS};
use crate::packets::{checked, record};
use crate::papers::beginning_before_in;

/// A record that calls for every paper: what happened to the retina, readers for both letters, a further session.
fn full(tag: &str) -> Record {
    record("steroid-taper", |text| {
        let reader =
            |name: &str| format!("{{ name = \"{name}\", address = [\"9 Sample Way\"], language = \"{tag}\" }}");
        let (_, letters) = text.split_once("referred_by = ").unwrap();
        let (referred, _) = letters.split_once('\n').unwrap();
        let readers = format!("{}\nspecialist = {}", reader("Dr. Ole Example"), reader("Dr. Rita Example"));
        let event = "events = [{ kind = \"retina\", what = \"Two pulses close to the retina below\", words = \"Two pulses.\" }]";
        text.replace(referred, &readers)
            .replace("leaves = ", &format!("{event}\nleaves = "))
            .replace("regimen = \"taper\"", "regimen = \"usual\"")
            .replace("language = \"en-US\"", &format!("language = \"{tag}\""))
    })
}

/// The same with the regimen of four weeks: the longest letter.
fn taper(tag: &str) -> Record {
    let mut record = full(tag);
    record.plan.regimen = "taper".into();
    record
}

/// UA-1, LP-8, ACA-5 for every paper: the exporter refuses what is no PDF/UA, the geometry what stands on something else.
pub(super) fn each_paper(tag: &'static str) {
    let mut language = Language::of(tag, beginning_before_in(&[tag, SOURCE]));
    let mut seen = BTreeSet::new();
    for mut record in [full(tag), taper(tag)] {
        for print in PRINTS {
            record.patient.print = print;
            let checked = checked(&language.practice, &record);
            for moment in [Moment::Before, Moment::After] {
                let case = Case::new(&checked, moment).unwrap();
                for page in case.papers() {
                    let paper = case.paper(page, demo::issued(&record, moment)).unwrap().unwrap();
                    assert_whole(&mut language, &paper, most(page, print, tag));
                    seen.insert(page.word());
                }
            }
        }
    }
    let sheet = first_visit(tag, &language);
    assert_whole(&mut language, &sheet, 1);
    seen.insert(Page::Suitability.word());
    assert_eq!(seen, Page::PAPERS.map(Page::word).into());
    typeset::forget();
}

/// How many pages a paper may take: the calendar in large print has a page of its own, and an urgent letter that tells of four
/// weeks of drops in Arabic is signed on its second page.
fn most(page: Page, print: Print, tag: &str) -> usize {
    match (print, page) {
        (Print::Standard, Page::UrgentLetter) if tag == "ar" => 2,
        (Print::Standard, _) => 1,
        (Print::Large, Page::DropsBefore) => 3,
        (Print::Large, _) => 2,
    }
}

fn assert_whole(language: &mut Language, paper: &Document, most: usize) {
    let name = paper.page.word();
    language.assert_reads(name, paper);
    let reach = language.typesetter.reach(paper).unwrap_or_else(|error| panic!("{}, {name}: {error}", language.tag));
    let most = if paper.page.for_the_patient() || paper.page == Page::UrgentLetter { most } else { 1 };
    assert!(reach.len() <= most, "{}, {name}: {reach:?}", language.tag);
    let stamp = Stamp { ident: name.to_owned(), issued: demo_time() };
    language.typesetter.pdf(paper, &stamp).unwrap_or_else(|error| panic!("{}, {name}: {error}", language.tag));
}

fn demo_time() -> chrono::NaiveDateTime {
    "2026-09-03T17:00:00".parse().unwrap()
}

/// The suitability sheet of a record half filled in.
fn first_visit(tag: &str, language: &Language) -> Document {
    let text = samples()["young-detachment/case.toml"].replace("\"en-US\"", &format!("\"{tag}\""));
    let draft = Draft::read(&SourceFile { name: "case.toml".into(), text }, &language.practice).unwrap();
    suitability::document(&draft, demo_time()).unwrap()
}
