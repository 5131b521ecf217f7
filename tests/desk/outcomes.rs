//! What became of an eye, entered at the desk, and own results.

use super::browser::{Browser, Served};
use super::typed::treated;
use vitreoleaf::register::{KeptOutcome, Register};
use vitreoleaf::results::Change;

fn kept(browser: &Browser, case: u32) -> Vec<KeptOutcome> {
    Register::in_file(&browser.served.register).unwrap().outcomes(case.into()).unwrap()
}

const SEEN: &[(&str, &str)] = &[
    ("do", "save"),
    ("/visit", "week"),
    ("/on", "aug 19"),
    ("/pressure_mmhg", "17,5 mmHg"),
    ("/acuity", "20/30"),
    ("/change", "much_better"),
    ("/bother_before", "8"),
    ("/bother_after", "2"),
];

/// On 26 August 2026, two weeks after the treatment.
fn served() -> Served {
    Served::start_at("2026-08-26T15:00:00")
}

#[test]
fn an_outcome_is_kept_corrected_and_withdrawn() {
    let served = served();
    let browser = served.signed_in("Ada");
    let id = treated(&browser, "multifocal-glaucoma");
    let path = format!("/case/{id}/outcome");
    let page = browser.post(&path, SEEN).text();
    assert!(page.contains("Kept.") && page.contains("Pressure: 17.5") && page.contains("entered by Ada"), "{page}");
    let first = kept(&browser, id).remove(0);
    assert_eq!(first.outcome.change, Change::MuchBetter);
    let number = first.id.to_string();
    let page = browser.get(&format!("{path}?corrects={number}")).text();
    assert!(page.contains("value=\"much_better\" checked") && page.contains("value=\"17.5\""), "{page}");
    let corrected: Vec<(&str, &str)> =
        SEEN.iter().map(|(name, value)| (*name, if *name == "/change" { "worse" } else { value })).collect();
    browser.post(&path, &[&corrected[..], &[("replaces", &number)]].concat());
    assert_eq!(kept(&browser, id)[0].outcome.change, Change::Worse);
    let again = browser.post(&path, &[&corrected[..], &[("replaces", &number)]].concat());
    assert!(again.status == 422 && again.text().contains("Somebody else corrected this"), "{}", again.text());
    let last = kept(&browser, id)[0].id.to_string();
    browser.post(&path, &[("do", "withdraw"), ("replaces", &last)]);
    assert_eq!(kept(&browser, id), []);
}

#[test]
fn what_cannot_be_is_told_at_its_field_and_stays_typed() {
    let served = served();
    let browser = served.signed_in("Kim");
    browser.post("/lock", &[]);
    browser.sign_in("Ada");
    let id = treated(&browser, "multifocal-glaucoma");
    let path = format!("/case/{id}/outcome");
    for (name, value, says) in [
        ("/on", "aug 27", "This day has not come yet."),
        ("/on", "aug 1", "This day lies before the treatment."),
        ("/pressure_mmhg", "81", "From 1 to 80."),
        ("/pressure_mmhg", "high", "This is not a number."),
        ("/acuity", "good", "Write it like 20"),
        ("/lost", "on", "Who is lost was not seen"),
        ("/events/0/done", "=1+1", "Write one line that does not begin with ="),
    ] {
        let mut sent: Vec<(&str, &str)> = SEEN.iter().filter(|(own, _)| *own != name).copied().collect();
        sent.extend([(name, value), ("/events/0/kind", "tear")]);
        let page = browser.post(&path, &sent);
        assert_eq!(page.status, 422, "{name} {value}");
        let text = page.text();
        assert!(text.contains(says) && text.contains("Nothing was kept yet."), "{name} {value}: {text}");
        assert_eq!(kept(&browser, id), [], "{name} {value}");
    }
    let nothing = browser.post(&path, &[("do", "save"), ("/visit", "week"), ("/on", "aug 19")]);
    assert!(nothing.text().contains("Nothing is entered."));
}

#[test]
fn only_an_eye_that_was_treated_has_an_outcome() {
    let served = served();
    let browser = served.signed_in("Ada");
    let id = browser.begin();
    assert_eq!(browser.get(&format!("/case/{id}/outcome")).status, 404);
    assert_eq!(browser.post(&format!("/case/{id}/outcome"), SEEN).status, 404);
}

#[test]
fn a_visit_is_listed_until_it_is_entered() {
    let served = served();
    let browser = served.signed_in("Ada");
    let id = treated(&browser, "multifocal-glaucoma");
    let link = format!("/case/{id}/outcome?visit=week");
    assert!(browser.get("/visits").text().contains(&link));
    assert!(browser.get(&link).text().contains("<option value=\"week\" selected>"));
    browser.post(&format!("/case/{id}/outcome"), SEEN);
    assert!(!browser.get("/visits").text().contains(&link));
}

#[test]
fn results_say_what_they_rest_on() {
    let served = served();
    let browser = served.signed_in("Ada");
    let id = treated(&browser, "multifocal-glaucoma");
    browser.post(&format!("/case/{id}/outcome"), SEEN);
    let page = browser.get("/results").text();
    for says in ["1 eyes treated.", "1 not there yet,", "0 lost", "too few for a share", "19 of 36, 6 months", "Limit "]
    {
        assert!(page.contains(says), "{says}: {page}");
    }
    let paper = browser.get("/results/print?surgeon=sample&eyes=all");
    assert!(paper.body.starts_with(b"%PDF-1.7"), "{}", paper.text());
    assert!(browser.get("/results?surgeon=nobody").text().contains("0 eyes treated."));
    assert!(browser.get("/results?since=soon").text().contains("Write a year, a month or a day"));
}
