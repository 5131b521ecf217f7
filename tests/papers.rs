//! The papers around a treatment: nothing is printed that is not recorded, what is unknown says so, each is one page.

use std::collections::BTreeMap;

use vitreoleaf::assets::samples;
use vitreoleaf::demo;
use vitreoleaf::diag::SourceFile;
use vitreoleaf::document::papers::outcome;
use vitreoleaf::document::{Document, Page, reading};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::{Case, suitability};
use vitreoleaf::practice::{Checked, Draft, Practice};
use vitreoleaf::record::Record;
use vitreoleaf::render::text;
use vitreoleaf::results;

use crate::languages::printing_in;
use crate::packets::{checked, practice, record};

fn same(text: String) -> String {
    text
}

fn paper(practice: &Practice, record: &Record, moment: Moment, page: Page) -> Option<Document> {
    let record = checked(practice, record);
    Case::new(&record, moment).unwrap().paper(page, demo::issued(&record, moment)).unwrap()
}

/// The words of a paper, spaces made equal.
fn words(document: &Document) -> String {
    text::text(document).replace('\u{a0}', " ")
}

/// The note of a case of the demo, its text changed.
fn note(name: &str, change: impl Fn(String) -> String) -> String {
    let practice = practice(same, BTreeMap::new());
    words(&paper(&practice, &record(name, change), Moment::After, Page::Note).unwrap())
}

#[test]
fn a_note_says_who_did_what_to_which_eye_and_how_it_ended() {
    let note = note("steroid-taper", same);
    for told in [
        "Procedure note: Nd:YAG laser vitreolysis, right eye",
        "Thursday, September 3, 2026, last pulse at 10:40 AM, Laser room",
        "Indication: ",
        "Identity and eye: yes",
        "Pause at the start: yes",
        "Offset: 0.25 mm behind",
        "Illumination: oblique",
        "Breakdown seen from: 4.5 mJ",
        "Pulses a burst: 1",
        "Contact lens: mid-vitreous contact lens with coupling gel",
        "Target: Weiss ring in front of the disc",
        "End point: ring broken up and moved out of the line of sight",
        "Pressure before the laser",
        "Pages handed over: yes",
        "Events: none recorded",
    ] {
        assert!(note.contains(told), "{told}\n{note}");
    }
    for number in ["24", "108", "96", "528", "120", "636"] {
        assert!(note.contains(number), "{number}: rows of pulses and their sum\n{note}");
    }
}

#[test]
fn what_nobody_recorded_is_called_so_and_never_filled_in() {
    let note = note("ring-implant", same);
    for label in [
        "Identity and eye",
        "Signed consent",
        "Pause at the start",
        "Signs and phone told",
        "Pages handed over",
        "Illumination",
        "Offset",
        "Breakdown seen from",
        "Pulses a burst",
        "Contact lens",
        "Target",
        "End point",
    ] {
        assert!(note.contains(&format!("{label}: not recorded")), "{label}\n{note}");
    }
    assert!(note.contains("planned; whether given is not recorded"), "{note}");
}

#[test]
fn an_offset_has_its_direction() {
    let offset =
        |mm: &str| note("steroid-taper", |text| text.replace("offset_mm = 0.25", &format!("offset_mm = {mm}")));
    assert!(offset("0.001").contains("Offset: 0.001 mm behind"));
    assert!(offset("0").contains("Offset: none"));
    assert!(offset("-0.001").contains("Offset: 0.001 mm in front"));
}

#[test]
fn a_treatment_that_was_stopped_has_its_reason_for_an_end_point() {
    let stopped = |text: String| text.replace("leaves = ", "stopped = \"the patient coughed\"\nleaves = ");
    let note = note("ring-implant", stopped);
    assert!(note.contains("End point: Stopped: the patient coughed"), "{note}");
}

/// Papers of the staff are never withheld: they say what is open.
#[test]
fn a_note_says_what_is_open() {
    let note = note("asthma-drops", same);
    assert!(note.contains("Still open: 2 findings"), "{note}");
    assert!(note.contains("No clinician has answered yet: "), "{note}");
}

#[test]
fn a_note_is_made_after_the_treatment_alone() {
    let practice = practice(same, BTreeMap::new());
    let record = record("ring-implant", same);
    assert!(paper(&practice, &record, Moment::Before, Page::Note).is_none());
    let checked = checked(&practice, &record);
    assert!(!Case::new(&checked, Moment::Before).unwrap().papers().contains(&Page::Note));
}

/// The slip names the procedure and the eye, is signed by who signed the consent, and tells what goes on.
#[test]
fn a_consent_is_taken_back_on_a_slip_of_its_own() {
    let practice = practice(same, BTreeMap::new());
    let plain = record("ring-implant", same);
    let slip = words(&paper(&practice, &plain, Moment::Before, Page::Withdrawal).unwrap());
    for told in [
        "I take back my consent to YAG laser vitreolysis (laser treatment of floaters) of my right eye.",
        "Patient: I take back my consent",
        "need not say why",
        "Your care goes on as before",
        "Still call us at once",
        "555-0100",
        "The practice received this slip",
    ] {
        assert!(slip.contains(told), "{told}\n{slip}");
    }
    assert!(!slip.contains("capsulotomy") && !slip.contains("Representative"), "{slip}");
    assert!(paper(&practice, &plain, Moment::After, Page::Withdrawal).is_none());
}

/// Each paper that the cases of the demo call for fits on one page, two in large print, and carries two identifiers and the eye.
#[test]
fn every_paper_is_one_page_with_two_identifiers_and_the_eye() {
    for (document, name) in every_paper() {
        assert!(!document.header.name.is_empty() && document.header.identifiers.contains(", "), "{name}");
        assert!(document.header.eye.contains("eye"), "{name}");
        assert!(!reading::read(&document).is_empty(), "{name}");
        #[cfg(feature = "typeset")]
        {
            let practice = practice(same, BTreeMap::new());
            let (pages, most) = (
                practice.typesetter().reach(&document).unwrap(),
                1 + usize::from(document.print == vitreoleaf::document::Print::Large),
            );
            assert!(pages.len() <= most, "{} of {name}: {pages:?}", document.page.word());
        }
    }
}

/// Every paper of every case of the demo.
fn every_paper() -> Vec<(Document, String)> {
    let practice = practice(same, BTreeMap::new());
    let mut papers = Vec::new();
    for (name, record) in demo::records(&practice, &samples()).unwrap() {
        for moment in demo::moments(&record) {
            let case = Case::new(&record, moment).unwrap();
            let made = case.papers().into_iter().map(|page| case.paper(page, demo::issued(&record, moment)));
            papers.extend(made.map(|paper| (paper.unwrap().unwrap(), name.clone())));
        }
    }
    papers
}

/// The letter of a case of the demo, its text changed.
fn letter(name: &str, change: impl Fn(String) -> String, page: Page) -> Option<String> {
    let practice = practice(same, BTreeMap::new());
    paper(&practice, &record(name, change), Moment::After, page).map(|letter| words(&letter))
}

#[test]
fn a_letter_says_to_whom_what_was_done_what_is_planned_and_when_to_send_back() {
    let letter = letter("steroid-taper", same, Page::Letter).unwrap();
    for told in [
        "To: Dr. Ole Hausarzt-Example, 12 Sample Road, Sampletown, NY 00000",
        "From: Dr. Ada Sample; Example Eye Practice, 100 Example Street",
        "The floaters of the right eye were treated",
        "Laser: 120 single pulses, 636 mJ in all",
        "Pressure, mmHg: before 15, after 16, and at 12:40 PM 20.5",
        "dorzolamide and timolol 2% and 0.5%: 2 times, last on September 3, 2026",
        "prednisolone acetate 1%: 4 drops a day at first, then step by step less, last on September 30, 2026",
        "Medicines changed: none beside these drops",
        "Early pressure check: Friday, September 4, 2026",
        "Late check of pressure and retina: Tuesday, March 2, 2027",
        "A steroid drop is planned.",
        "Send the patient back the same day for",
        "New floaters, flashes, a shadow, loss of sight, strong pain, or more redness.",
        "555-0100",
        "555-0199",
        "I expect one session to be enough.",
    ] {
        assert!(letter.contains(told), "{told}\n{letter}");
    }
}

/// A reader with twenty seconds: what happened, what is asked and whom to phone stand before what was done.
#[test]
fn a_letter_says_first_what_is_asked_of_its_reader() {
    let letter = letter("steroid-taper", same, Page::Letter).unwrap();
    let at = |text: &str| letter.find(text).unwrap_or_else(|| panic!("{text}\n{letter}"));
    let order =
        ["were treated", "What we ask of you", "Send the patient back", "555-0100", "Pressure checks", "What was done"];
    assert!(order.map(at).is_sorted(), "{letter}");
}

#[test]
fn a_letter_says_what_is_not_recorded_and_which_drops_are_not_settled() {
    let letter = letter("asthma-drops", same, Page::Letter).unwrap();
    for told in [
        "The doctor who referred the patient (name not recorded)",
        "Drops at home: Not settled yet",
        "Medicines changed: not recorded",
        "Still open: 2 findings",
        "A clinician must answer before this letter goes out.",
    ] {
        assert!(letter.contains(told), "{told}\n{letter}");
    }
    assert!(!letter.contains("No clinician has answered yet"), "what is open concerns nobody outside: {letter}");
    assert!(!letter.contains("From the surgeon"), "nobody wrote words: {letter}");
}

#[test]
fn a_letter_after_a_treatment_that_was_stopped_says_so() {
    let stopped = |text: String| text.replace("leaves = ", "stopped = \"the patient coughed\"\nleaves = ");
    let letter = letter("ring-implant", stopped, Page::Letter).unwrap();
    assert!(letter.contains("stopped before it was done") && !letter.contains("were treated with"), "{letter}");
}

/// Urgent is what happened to the retina or in the vitreous, an event of no known kind, an untreated break, new signs.
#[test]
fn an_urgent_letter_is_called_for_by_what_happened_and_by_nothing_else() {
    let with = |event: &str| {
        let event = format!("events = [{{ {event}what = \"Seen\", words = \"Seen.\" }}]\nleaves = ");
        letter("ring-implant", |text| text.replace("leaves = ", &event), Page::UrgentLetter)
    };
    for (kind, why) in [
        ("kind = \"retina\", ", "The retina was hit during the laser, or it bleeds."),
        ("kind = \"vitreous_bleeding\", ", "There is bleeding in the vitreous."),
        ("", "Its kind is not recorded."),
    ] {
        let letter = with(kind).unwrap();
        let told = ["Please see this patient urgently.", why, "Seen", "name not recorded", "Told by phone"];
        assert!(told.iter().all(|told| letter.contains(told)), "{kind}: {letter}");
    }
    for kind in ["implant_marked", "pressure", "other"] {
        assert_eq!(with(&format!("kind = \"{kind}\", ")), None, "{kind}");
    }
    assert_eq!(letter("ring-implant", same, Page::UrgentLetter), None);
}

/// Before the treatment too: what is found then cannot wait for a laser.
#[test]
fn an_untreated_break_calls_for_an_urgent_letter_before_the_treatment() {
    let practice = practice(same, BTreeMap::new());
    let untreated = record("ring-implant", |text| text.replace("breaks = \"none\"", "breaks = \"untreated\""));
    let letter = words(&paper(&practice, &untreated, Moment::Before, Page::UrgentLetter).unwrap());
    assert!(letter.contains("a break of the retina that is not treated"), "{letter}");
    assert!(letter.contains("It waits for what you find.") && !letter.contains("was treated"), "{letter}");
}

/// A letter is in its reader's language; one that the practice does not print in is refused with its place.
#[test]
fn a_letter_is_in_the_language_of_its_reader() {
    let practice = printing_in(&["en-US", "de"], BTreeMap::new());
    let german = |text: String| text.replace("NY 00000\"] }", "NY 00000\"], language = \"de\" }");
    let case = record("steroid-taper", german);
    let document = paper(&practice, &case, Moment::After, Page::Letter).unwrap();
    assert_eq!(document.language, "de");
    assert!(document.draft && words(&document).contains("Schicken Sie den Patienten"), "{}", words(&document));
    let note = paper(&practice, &case, Moment::After, Page::Note).unwrap();
    assert_eq!(note.language, "en-US");
    let refused = Checked::of(&case, self::practice(same, BTreeMap::new())).map(|_| ()).unwrap_err().to_string();
    assert!(refused.contains("no language"), "{refused}");
}

/// What the patient marks is what the register takes in.
#[test]
fn an_outcome_form_asks_what_the_register_takes_in() {
    let schema = serde_json::to_string(&schemars::schema_for!(results::Change)).unwrap();
    assert!(outcome::CHANGES.iter().all(|step| schema.contains(&format!("\"{step}\""))), "{schema}");
    assert_eq!(schema.matches("\"const\"").count(), outcome::CHANGES.len() + 1, "and unknown");
    let practice = practice(same, BTreeMap::new());
    let form = |moment| words(&paper(&practice, &record("ring-implant", same), moment, Page::Outcome).unwrap());
    let (before, after) = (form(Moment::Before), form(Moment::After));
    for told in ["for your right eye alone", "bother you now?", "[ ] 0 Not at all", "[ ] 10 As much as", "[ ] driving"]
    {
        assert!(before.contains(told) && after.contains(told), "{told}\n{before}\n{after}");
    }
    for told in ["[ ] It is gone", "[ ] A little better", "[ ] Worse"] {
        assert!(after.contains(told) && !before.contains(told), "{told}\n{after}");
    }
    assert_eq!((before.matches("[ ] 7").count(), after.matches("[ ] 7").count()), (1, 1));
    assert!(!after.contains("Think back"), "who thinks back marks something else than who was asked then: {after}");
}

fn begins_before(text: String) -> String {
    let usual = "drug = \"prednisolone_acetate_1\"\n";
    text.replacen(usual, &format!("{usual}starts = -2\n"), 1)
}

/// The demo's practice, its usual regimen beginning before the laser.
pub(crate) fn beginning_before() -> Practice {
    practice(begins_before, BTreeMap::new())
}

/// The same in other languages, the clinic's own first.
#[cfg(feature = "typeset")]
pub(crate) fn beginning_before_in(languages: &[&str]) -> Practice {
    crate::languages::printing_in_with(languages, begins_before, BTreeMap::new())
}

#[test]
fn drops_before_the_laser_have_a_dated_calendar_where_the_regimen_has_them() {
    let (record, moment, page) = (record("ring-implant", same), Moment::Before, Page::DropsBefore);
    assert!(paper(&practice(same, BTreeMap::new()), &record, moment, page).is_none());
    let practice = beginning_before();
    let calendar = words(&paper(&practice, &record, moment, page).unwrap());
    for told in
        ["Your drops before the laser", "Friday, August 7, 2026, at 10:00 AM", "August 5", "August 6", "555-0100"]
    {
        assert!(calendar.contains(told), "{told}\n{calendar}");
    }
    assert!(!calendar.contains("August 8"), "what comes after stands on the aftercare: {calendar}");
}

/// The consent tells the same drops, on pages that are laid out.
#[cfg(feature = "typeset")]
#[test]
fn a_consent_with_drops_before_the_laser_is_laid_out() {
    let practice = beginning_before();
    let record = checked(&practice, &record("ring-implant", same));
    let consent = Case::new(&record, Moment::Before).unwrap().unissued().unwrap();
    assert!(words(&consent).contains("These drops begin before the laser."), "{}", words(&consent));
    practice.typesetter().places(&consent).unwrap();
}

/// Half a page, before the laser and after it, on either paper. `languages::papers` holds it of the others.
#[cfg(feature = "typeset")]
#[test]
fn an_outcome_form_takes_half_a_page() {
    for paper in ["us-letter", "a4"] {
        let practice =
            practice(|text| text.replace("paper = \"us-letter\"", &format!("paper = \"{paper}\"")), BTreeMap::new());
        for moment in [Moment::Before, Moment::After] {
            let form = self::paper(&practice, &record("ring-implant", same), moment, Page::Outcome).unwrap();
            let reach = practice.typesetter().reach(&form).unwrap();
            assert!(reach.len() == 1 && reach[0] <= crate::languages::papers::HALF, "{paper}, {moment:?}: {reach:?}");
        }
    }
}

/// A drop plan is for nobody while a finding is open.
#[test]
fn drops_before_the_laser_are_withheld_with_the_consent() {
    let practice = beginning_before();
    let record = record("ring-implant", |text| text.replace("flashes = \"no\"", "flashes = \"yes\""));
    let checked = checked(&practice, &record);
    let case = Case::new(&checked, Moment::Before).unwrap();
    assert!(case.withheld().is_some() && !case.papers().contains(&Page::DropsBefore));
    assert!(case.papers().contains(&Page::Outcome), "a form that only asks is not withheld");
}

#[test]
fn the_plan_of_a_further_session_says_when_what_remains_and_what_the_sessions_gave() {
    let next = |change: &dyn Fn(String) -> String| {
        let practice = practice(same, BTreeMap::new());
        words(&paper(&practice, &record("steroid-taper", change), Moment::After, Page::NextSession).unwrap())
    };
    let plan = next(&same);
    for told in [
        "Interval: 6 weeks: from Thursday, October 15, 2026 on",
        "What remains: one piece near the line of sight",
        "What changes: oblique illumination from the start",
        "636",
        "Result: ring in two pieces, patient notices less",
        "This eye in all sessions: 636 mJ",
        "A further session needs a consent of its own.",
    ] {
        assert!(plan.contains(told), "{told}\n{plan}");
    }
    let weeks = |weeks: &str| next(&|text| text.replace("after_weeks = 6", &format!("after_weeks = {weeks}")));
    assert!(weeks("3").contains("3 weeks are planned; the practice waits 4 weeks at least."));
    assert!(!weeks("4").contains("Sooner than"), "at the limit");
    let unknown = next(&|text| text.split("[next_session]").next().unwrap().to_owned() + "[next_session]\n");
    for label in ["Interval", "What remains", "What changes", "Result"] {
        assert!(unknown.contains(&format!("{label}: not recorded")), "{label}\n{unknown}");
    }
    let practice = practice(same, BTreeMap::new());
    assert!(paper(&practice, &record("ring-implant", same), Moment::After, Page::NextSession).is_none());
}

/// The consent of a repeat session says what the earlier ones gave; that of a first one speaks of none.
#[test]
fn the_consent_of_a_repeat_session_says_what_happened_before() {
    let practice = practice(same, BTreeMap::new());
    let consent = |sessions: &str| {
        let record =
            record("ring-implant", |text| text.replacen("[treatment]", &format!("{sessions}\n[treatment]"), 1));
        let checked = checked(&practice, &record);
        words(&Case::new(&checked, Moment::Before).unwrap().unissued().unwrap())
    };
    let known = consent("[[earlier_sessions]]\ndate = 2026-02-03\nenergy_mj = 412\nresult = \"a little better\"\n");
    for told in [
        "last on Tuesday, February 3, 2026",
        "412 millijoules of laser energy in all",
        "what that brought: a little better",
        "may help more, or it may change nothing",
        "How often it helps is not known",
    ] {
        assert!(known.contains(told), "{told}\n{known}");
    }
    let unknown = consent("[[earlier_sessions]]\ndate = 2026-02-03\n");
    assert!(unknown.contains("How much laser energy it got in all is not on record."), "{unknown}");
    assert!(unknown.contains("What that brought is not on record."), "{unknown}");
    assert!(!consent("").contains("had laser treatment of floaters before"));
}

/// The suitability sheet of a record as far as it goes.
fn suitability_of(text: &str) -> String {
    let file = SourceFile { name: "case.toml".into(), text: text.to_owned() };
    let draft = Draft::read(&file, &practice(same, BTreeMap::new())).unwrap_or_else(|refused| panic!("{refused}"));
    words(&suitability::document(&draft, "2026-07-01T14:00:00".parse().unwrap()).unwrap())
}

#[test]
fn a_suitability_sheet_is_made_of_a_record_just_begun_and_invents_nothing() {
    let sheet = suitability_of("[eye]\nlens = \"natural\"\n");
    for told in [
        "Name not recorded",
        "Date of birth or record number not recorded",
        "Eye not recorded",
        "No code yet",
        "No date yet",
        "Why: not recorded",
        "Floater explains the complaint: not recorded",
        "Front desk: Born, Language, Name",
        "Nurse: Reason, in the patient's words",
    ] {
        assert!(sheet.contains(told), "{told}\n{sheet}");
    }
    assert!(!sheet.contains("Right eye") && !sheet.contains("Left eye") && !sheet.contains("1970"), "{sheet}");
}

#[test]
fn a_suitability_sheet_says_whether_complaint_and_floater_agree() {
    let text = samples()["ring-implant/case.toml"].clone();
    let with = |word: &str| {
        suitability_of(&text.replace("kind = \"ring\"", &format!("kind = \"ring\"\nexplains = \"{word}\"")))
    };
    let (yes, no) = (with("yes"), with("no"));
    assert!(
        yes.contains("Floater explains the complaint: yes") && yes.contains("Nothing is missing for a date"),
        "{yes}"
    );
    assert!(no.contains("Ask: What is seen does not explain the complaint"), "{no}");
    assert!(no.contains("No date yet") && no.contains("Missing: 0. Open stops and questions: 1."), "{no}");
    let open = suitability_of(&text);
    assert!(open.contains("Missing: 1.") && open.contains("Surgeon: Floater explains the complaint"), "{open}");
    let without = suitability_of(&text.replace("reason = \"a ring-shaped floater\"\n", ""));
    assert!(without.contains("Nurse: Reason, in the patient's words") && without.contains("Missing: 2."), "{without}");
}

#[cfg(feature = "typeset")]
#[test]
fn a_suitability_sheet_is_one_page_however_little_is_recorded() {
    let practice = practice(same, BTreeMap::new());
    for text in ["[eye]\nlens = \"natural\"\n", "[eye]\nside = \"right\"\n", &samples()["young-detachment/case.toml"]] {
        let draft = Draft::read(&SourceFile { name: "case.toml".into(), text: text.to_owned() }, &practice).unwrap();
        let document = suitability::document(&draft, "2026-07-01T14:00:00".parse().unwrap()).unwrap();
        assert_eq!(practice.typesetter().reach(&document).unwrap().len(), 1, "{text}");
    }
}
