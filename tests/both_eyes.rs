//! Two cases of one patient: one calendar for both eyes, or a stop that says why not.

use std::collections::BTreeMap;

use vitreoleaf::demo;
use vitreoleaf::document::{Block, Page};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::{Case, File, Form, Output, both_eyes};
use vitreoleaf::practice::Practice;
use vitreoleaf::record::Record;

use crate::languages::printing_in;
use crate::packets::{FORM, checked, practice, record};

fn same(text: String) -> String {
    text
}

/// The files of both eyes, and whether each case gave its calendar up.
fn joined(practice: &Practice, records: &[Record], moment: Moment) -> Result<(Vec<File>, Vec<bool>), String> {
    joined_as(FORM, practice, records, moment)
}

fn joined_as(
    form: Form,
    practice: &Practice,
    records: &[Record],
    moment: Moment,
) -> Result<(Vec<File>, Vec<bool>), String> {
    let records: Vec<_> = records.iter().map(|record| checked(practice, record)).collect();
    let mut cases: Vec<Case> = records.iter().map(|record| Case::new(record, moment).unwrap()).collect();
    let files = join_all(&mut cases, form)?.into_iter().map(|(_, file)| file).collect();
    Ok((files, cases.iter().map(|case| case.both_eyes().is_some()).collect()))
}

/// Makes the calendars of both eyes; each file with the place of the case treated later.
pub(crate) fn join_all(cases: &mut [Case], form: Form) -> Result<Vec<(usize, File)>, String> {
    let found = both_eyes::find(&cases.iter().collect::<Vec<_>>());
    if let Some(stop) = found.stops.first() {
        return Err(stop.to_string());
    }
    let mut files = Vec::new();
    for pair in found.pairs {
        let [first, second] = cases.get_disjoint_mut(pair).unwrap();
        let issued = demo::issued(second.record(), second.moment());
        let outputs = both_eyes::outputs([&*first, &*second], &[form]).map_err(|error| error.to_string())?;
        let made = both_eyes::join([first, second], &[form], &outputs, issued).map_err(|error| error.to_string())?;
        files.extend(made.files.into_iter().map(|file| (pair[1], file)));
    }
    Ok(files)
}

fn pair(change: impl Fn(String) -> String) -> [Record; 2] {
    [record("both-eyes-right", same), record("both-eyes-left", change)]
}

fn refusal(change: impl Fn(String) -> String) -> String {
    let practice = practice(same, BTreeMap::new());
    joined(&practice, &pair(change), Moment::After).unwrap_err()
}

#[test]
fn overlapping_drops_of_one_patient_share_a_calendar() {
    let practice = practice(same, BTreeMap::new());
    let (files, given_up) = joined(&practice, &pair(same), Moment::After).unwrap();
    let named: Vec<_> = files.iter().map(|file| (file.output, file.name.split('.').next().unwrap())).collect();
    let expected =
        [(Output::Page(Page::BothEyes, FORM), "EX-10_EX-11-both-eyes"), (Output::Calendar, "EX-10_EX-11-both-eyes")];
    assert_eq!(named, expected);
    assert_eq!(given_up, [true, true]);
    // The order of the cases does not matter.
    let mut turned = pair(same);
    turned.reverse();
    assert_eq!(joined(&practice, &turned, Moment::After).unwrap().0[0].bytes, files[0].bytes);
}

/// ACA-5, LP-1: in the patient's language and size of print, and over again in the clinic's language.
#[test]
fn the_calendar_is_made_as_the_patient_reads() {
    let practice = printing_in(&["en-US", "es-US"], BTreeMap::new());
    let spanish = |text: String| {
        let text = text.replace("language = \"en-US\"", "language = \"es-US\"");
        text.replace("print = \"standard\"", "print = \"large\"")
    };
    let records = ["both-eyes-right", "both-eyes-left"].map(|name| record(name, spanish));
    let (files, _) = joined_as(Form::Html, &practice, &records, Moment::After).unwrap();
    let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
    let stem = "EX-10_EX-11-both-eyes";
    assert_eq!(names, [format!("{stem}.html"), format!("{stem}.ics"), format!("{stem}-clinic.html")]);
    for (at, tag, said) in [(0, "es-US", "Borrador de traducción"), (2, "en-US", "own page is in Spanish")] {
        let page = String::from_utf8(files[at].bytes.clone()).unwrap();
        assert!(page.contains(&format!("lang=\"{tag}\" dir=\"ltr\" class=\"large\"")), "{tag}");
        assert!(page.contains(said), "{tag}: {said}");
    }
}

#[test]
fn without_overlap_each_eye_keeps_its_calendar() {
    let practice = practice(same, BTreeMap::new());
    let alone = |records: &[Record], moment| joined(&practice, records, moment).unwrap() == (vec![], vec![false; 2]);
    // The drops of the right eye end on 13 August 2026; the left eye is treated on the 14th.
    let later = |text: String| text.replace("2026-08-11T", "2026-08-14T").replace("2026-08-18T", "2026-08-21T");
    assert!(alone(&pair(later), Moment::After));
    let last_day = |text: String| text.replace("2026-08-11T", "2026-08-13T").replace("2026-08-18T", "2026-08-20T");
    assert!(!alone(&pair(last_day), Moment::After));
    let another = |text: String| text.replace("000-110", "000-111").replace("Jorge Ejemplo", "Ana Ejemplo");
    assert!(alone(&pair(another), Moment::After));
    // What may be one patient and may be two is asked about, and never merged.
    for (from, to) in [("000-110", "000 110"), ("000-110", "000-111"), ("Jorge Ejemplo", "Jorge Exemplo")] {
        assert!(alone(&pair(|text| text.replace(from, to)), Moment::After), "{to}");
    }
    assert!(alone(&pair(same), Moment::Before));
    // A drop plan that is withheld has no doses that another calendar could hold.
    assert!(alone(&pair(|text| text.replace("asthma = \"no\"", "asthma = \"yes\"")), Moment::After));
}

#[test]
fn a_pair_that_contradicts_itself_is_a_stop() {
    for (from, to, why) in [
        ("side = \"left\"", "side = \"right\"", "of the same eye"),
        ("wakes = \"07:00\"", "wakes = \"06:00\"", "hours of getting up and sleep"),
        ("print = \"standard\"", "print = \"large\"", "sizes of print"),
    ] {
        let told = refusal(|text| {
            assert!(text.contains(from), "{from}");
            text.replace(from, to)
        });
        assert!(told.starts_with("cases EX-10 and EX-11") && told.contains(why), "{told}");
        assert!(!told.contains("Ejemplo") && !told.contains("000-110"), "nothing private: {told}");
    }
    let practice = practice(same, BTreeMap::new());
    let third = record("both-eyes-left", |text| text.replace("EX-11", "EX-12"));
    let [one, other] = pair(same);
    assert!(joined(&practice, &[one, other, third], Moment::After).unwrap_err().contains("a third case"));
}

/// The consent shows the drops that begin before the treatment, the aftercare those after it, and no dose stands twice.
#[test]
fn drops_before_the_treatment_stand_in_the_consent() {
    let early = |text: String| {
        text.replacen("drug = \"prednisolone_acetate_1\"", "drug = \"prednisolone_acetate_1\"\nstarts = -2", 1)
    };
    let practice = practice(early, BTreeMap::new());
    let record = record("ring-implant", same);
    let boxes = |moment| {
        let checked = checked(&practice, &record);
        let case = Case::new(&checked, moment).unwrap();
        let documents = case.documents(demo::issued(&record, moment)).unwrap();
        let days = documents.into_iter().flat_map(|document| document.blocks).filter_map(|block| match block {
            Block::Calendar(calendar) => Some(calendar.days),
            _ => None,
        });
        let days = days.flatten().map(|day| (day.date, day.doses.iter().map(Vec::len).sum::<usize>()));
        days.collect::<Vec<_>>()
    };
    // Six a day from 5 August; at 10:00 on the 7th the session begins: only the slot on waking is before it.
    let day = |date: &str, doses| (date.to_owned(), doses);
    assert_eq!(boxes(Moment::Before), [day("August\u{a0}5", 6), day("August\u{a0}6", 6), day("August\u{a0}7", 1)]);
    let after = boxes(Moment::After);
    assert_eq!((after.first(), after.last()), (Some(&day("August\u{a0}7", 6)), Some(&day("August\u{a0}11", 6))));
}
