//! The papers around a treatment where patient, clinic and readers of letters all use one of the languages: each of them in it,
//! by its wording rules, laid out whole on one page.

use std::collections::BTreeSet;

use serde_json::{Value, json};
use vitreoleaf::assets::samples;
use vitreoleaf::content::folders::SOURCE;
use vitreoleaf::demo;
use vitreoleaf::diag::SourceFile;
use vitreoleaf::document::{Document, Page, Paper};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::{Case, suitability};
use vitreoleaf::practice::Draft;
use vitreoleaf::record::known::Known;
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

/// The same with the regimen of four weeks and as much of everything as one treatment can honestly be expected to bring: an event told
/// in full, two rechecks, a medicine changed, a paragraph of the surgeon's own, four energies, an earlier session.
fn fullest(tag: &str) -> Record {
    let mut record = full(tag);
    let event =
        |kind: &str, what: &str| json!({ "kind": kind, "what": what, "words": "We saw it and looked at once." });
    let rows: Vec<Value> = [3.5, 4.5, 5.5, 6.0].map(|mj| json!({ "pulse_energy_mj": mj, "pulses": 36 })).into();
    let changes = json!({
        "plan": { "regimen": "taper" },
        "complaint": { "hinders": HINDERS },
        "earlier_sessions": [{ "date": "2026-06-03", "energy_mj": 412.5, "result": "a little better, the ring is thinner than before" }],
        "treatment": {
            "rows": rows,
            "rechecks": [
                { "at": "2026-09-03T11:40:00", "pressure_mmhg": 27.5 }, { "at": "2026-09-03T12:40:00", "pressure_mmhg": 20.5 },
            ],
            "events": [
                event("retina", "Two pulses close to the retina below the lower vessels, a small white spot, no bleeding seen"),
            ],
        },
        "letters": {
            "medicines_changed": ["acetazolamide 250 mg, one tablet given in the clinic"],
            "words": [WORDS],
        },
    });
    let mut value = serde_json::to_value(&record).unwrap();
    put(&mut value, &changes);
    record = serde_json::from_value(value).unwrap();
    record
}

/// What a surgeon adds about an event.
const WORDS: &str = "The view was clear until the last pulses, which lay lower than planned because the eye moved. I saw no break and no \
    fluid, and the patient sees as before. I would be glad of your opinion whether laser around the spot is called for.";

/// What a floater hinders in as many and long words as patients give.
pub(crate) const HINDERS: [&str; 5] =
    ["reading", "driving at night", "looking at a white screen", "bright days outside", "sewing"];

/// The same with every text of a letter as long and every list as full as the record takes it.
fn beyond(tag: &str) -> Record {
    let mut record = fullest(tag);
    record.letters.words = vec![long("The view was clear until the last pulses. ", 400); 3];
    record.letters.medicines_changed = Known::Value(vec![long("acetazolamide 250 mg ", 120); 10]);
    for reader in [&mut record.letters.referred_by, &mut record.letters.specialist].into_iter().flatten() {
        reader.address = vec![long("Sample Way ", 60); 4];
    }
    let treatment = record.treatment.as_mut().unwrap();
    let mut event = treatment.events[0].clone();
    event.what = long("Two pulses close to the retina below ", 200);
    treatment.events = vec![event; 10];
    record
}

/// A text of so many letters.
fn long(words: &str, letters: usize) -> String {
    words.repeat(letters / words.len() + 1)[..letters].trim_end().to_owned()
}

/// Puts each value of `changes` in its place.
fn put(value: &mut Value, changes: &Value) {
    match (value, changes) {
        (Value::Object(value), Value::Object(changes)) => {
            changes.iter().for_each(|(key, change)| put(value.entry(key).or_insert(Value::Null), change));
        }
        (value, change) => *value = change.clone(),
    }
}

/// UA-1, LP-8, ACA-5 for every paper: the exporter refuses what is no PDF/UA, the geometry what stands on something else.
pub(super) fn each_paper(tag: &'static str) {
    let mut language = Language::of(tag, beginning_before_in(&[tag, SOURCE]));
    let mut seen = BTreeSet::new();
    for mut record in [full(tag), fullest(tag)] {
        for print in PRINTS {
            record.patient.print = print;
            let checked = checked(&language.practice, &record);
            for moment in [Moment::Before, Moment::After] {
                let case = Case::new(&checked, moment).unwrap();
                for page in case.papers() {
                    let paper = case.paper(page, demo::issued(&record, moment)).unwrap().unwrap();
                    assert_whole(&mut language, &paper, most(page, print));
                    seen.insert(page.word());
                }
            }
        }
    }
    let sheet = first_visit(tag, &language);
    assert_whole(&mut language, &sheet, 1);
    seen.insert(Page::Suitability.word());
    assert_eq!(seen, Page::PAPERS.map(Page::word).into());
    each_letter_is_signed_first(&language);
    typeset::forget();
}

/// Half a sheet: text reaches so far down of its height without the foot, which is nine tenths.
pub(crate) const HALF: f64 = 0.5 / 0.9;

/// How many pages a paper may take: one, and in large print of the patient two.
fn most(page: Page, print: Print) -> usize {
    1 + usize::from(print == Print::Large && page.for_the_patient())
}

fn assert_whole(language: &mut Language, paper: &Document, most: usize) {
    let name = paper.page.word();
    language.assert_reads(name, paper);
    let reach = language.typesetter.reach(paper).unwrap_or_else(|error| panic!("{}, {name}: {error}", language.tag));
    assert!(reach.len() <= most, "{}, {name}: {reach:?}", language.tag);
    if paper.page == Page::Outcome && paper.print == Print::Standard {
        // What stands across the top of an example and of a draft goes away with them.
        for size in [Paper::UsLetter, Paper::A4] {
            let form = Document { banner: Vec::new(), paper: size, ..paper.clone() };
            let reach = language.typesetter.reach(&form).unwrap();
            assert!(reach[0] <= HALF, "{}, {name}, {size:?}: {reach:?}", language.tag);
        }
    }
    let stamp = Stamp { ident: name.to_owned(), issued: demo_time() };
    language.typesetter.pdf(paper, &stamp).unwrap_or_else(|error| panic!("{}, {name}: {error}", language.tag));
}

/// Whatever a record holds: what is asked and the signature stand on the first page of a letter, with the dates where they fit.
fn each_letter_is_signed_first(language: &Language) {
    let record = checked(&language.practice, &beyond(language.tag));
    let case = Case::new(&record, Moment::After).unwrap();
    for page in [Page::Letter, Page::UrgentLetter] {
        let letter = case.paper(page, demo::issued(&record, Moment::After)).unwrap().unwrap();
        let places = language.typesetter.places(&letter).unwrap();
        let first = places.iter().filter(|(id, _)| id.starts_with("urgent-ask") || id.starts_with("letter-ask"));
        let first: Vec<_> = first.chain(places.get_key_value("sign/surgeon")).collect();
        assert!(
            first.len() > 2 && first.iter().all(|(_, page)| **page == 1),
            "{}, {}: {places:?}",
            language.tag,
            page.word()
        );
        let reach = language.typesetter.reach(&letter).unwrap();
        assert!(reach.len() <= 3, "{}, {}: {reach:?}", language.tag, page.word());
    }
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
