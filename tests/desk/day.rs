//! The day: what the surgeon is asked, and the recheck that somebody waits for.

use super::browser::{Served, form};
use super::typed::{planned, treated};

#[test]
fn a_question_stands_on_the_surgeons_list_until_it_is_seen() {
    let served = Served::start();
    let browser = served.signed_in("Max");
    let id = browser.begin();
    let path = format!("/case/{id}/desk");
    let page = browser.post(&path, &[("/patient/name", "Rosa Beispiel"), ("do", "ask"), ("question", " ")]).text();
    assert!(page.contains("Write what you ask, in a sentence."), "{page}");
    browser.post(&path, &[("do", "ask"), ("question", "May she come a day earlier?")]);
    let day = browser.get("/day").text();
    assert!(day.contains("May she come a day earlier?") && day.contains("asked by Max, 8:00"), "{day}");
    browser.post(&path, &[("do", "asked day")]);
    assert!(browser.get("/day").text().contains("May she come a day earlier?"), "the surgeon clears it");
    browser.post("/lock", &[]);
    browser.sign_in("Ada");
    let day = browser.post(&format!("/case/{id}/surgeon"), &[("do", "asked day")]).text();
    assert!(!day.contains("May she come a day earlier?") && day.contains("Rosa Beispiel"), "{day}");
}

#[test]
fn the_time_until_a_recheck_is_told_and_names_nobody_on_a_locked_desk() {
    // 11:12 in the morning at the practice; the last pulse was at 9:35, and the aftercare was issued since.
    let served = Served::start_at("2026-08-12T15:12:00");
    let browser = served.signed_in("Ada");
    let id = treated(&browser, "multifocal-glaucoma");
    browser.post(&format!("/case/{id}/print"), &[]);
    let day = browser.get("/day").text();
    let name = browser.kept(id).text("/patient/name").unwrap().to_owned();
    let due = browser.get("/due").text();
    assert!(due.contains(&name) && due.contains("in 23 min"), "{due} {day}");
    assert!(day.contains("in 23 min</a>"), "the next step tells it too: {day}");
    browser.post("/lock", &[]);
    let due = browser.get("/due").text();
    assert!(!due.contains(&name) && due.contains("in 23 min"), "{due}");
}

#[test]
fn a_search_finds_name_number_and_code_and_no_address_holds_a_name() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let id = planned(&browser, "ring-implant");
    let fields = form(&[("token".into(), browser.token()), ("find".into(), "Rosa Beispiel".into())]);
    let sent =
        served.ask("POST", "/day/found", &[("Cookie", &browser.cookie), ("Sec-Fetch-Site", "same-origin")], &fields);
    assert_eq!((sent.status, sent.header("location")), (303, Some("/day/found")));
    for words in ["beispiel", "000-101", "ex-01", "Rosa 101"] {
        let found = browser.post("/day/found", &[("find", words)]).text();
        assert!(
            found.contains(&format!("/case/{id}/")) && found.contains(&format!("value=\"{words}\"")),
            "{words}: {found}"
        );
    }
    assert!(browser.post("/day/found", &[("find", "Nobody")]).text().contains("No case has these words"));
    let nothing = browser.post("/day/found", &[("find", " ")]).text();
    assert!(nothing.contains("Wednesday, August\u{a0}12, 2026"), "the day as it was: {nothing}");
}

#[test]
fn the_list_can_be_told_to_show_who_must_act() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let (one, other) = (planned(&browser, "ring-implant"), planned(&browser, "young-detachment"));
    let shows = |who: &str| {
        let page = browser.get(&format!("/day?date=2026-08-21{who}")).text();
        let rows = page.split("<tbody").nth(1).unwrap_or_default().to_owned();
        [one, other].map(|id| rows.contains(&format!("href=\"/case/{id}/")))
    };
    assert_eq!(shows(""), [true, true]);
    let each = ["&who=desk", "&who=nurse", "&who=surgeon"].map(shows);
    for case in 0..2 {
        assert_eq!(each.iter().filter(|shown| shown[case]).count(), 1, "one of them acts: {each:?}");
    }
}

#[test]
fn a_row_says_what_the_surgeon_must_answer_first() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    planned(&browser, "young-detachment");
    let day = browser.get("/day?date=2026-08-21").text();
    assert!(day.contains("<bdi>Young vitreous detachment</bdi>"), "{day}");
}

#[test]
fn a_case_that_waits_for_the_surgeon_says_so_in_its_row() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let id = planned(&browser, "ring-implant");
    browser.post("/lock", &[]);
    browser.sign_in("Kim");
    browser.post(&format!("/case/{id}/nurse"), &[("do", "ask"), ("question", "Dilate now?")]);
    assert!(browser.get("/day?date=2026-08-21").text().contains("Surgeon asked 8:00"));
}

/// Such a case costs nobody the list: what is wrong is told at its field.
#[test]
fn a_side_that_is_none_is_told_at_its_field_and_every_page_shows() {
    let served = Served::start();
    let browser = served.signed_in("Max");
    let id = browser.begin();
    let path = format!("/case/{id}/desk");
    let page = browser.post(&path, &[("/patient/name", "Rosa Beispiel"), ("/eye/side", "rigth")]);
    assert!(page.status == 200 && page.text().contains("id=\"errors\""), "{}", page.text());
    assert!(browser.get("/day").text().contains("Rosa Beispiel"));
}
