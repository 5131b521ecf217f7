//! A clock that is set while the desk runs, or was wrong when it started: nothing typed is lost, and nobody is locked out.

use super::browser::{Browser, Served};
use super::typed::treated;

/// The morning on which each of these begins, an hour before, a year before and many years after it.
const CLOCKS: [&str; 4] = ["2026-08-12T12:00:00", "2026-08-12T11:00:00", "2025-08-12T12:00:00", "2099-01-01T00:00:00"];

fn write(browser: &Browser, id: u32, name: &str) {
    browser.post(&format!("/case/{id}/desk"), &[("/patient/name", name)]);
}

#[test]
fn saves_follow_each_other_and_undo_takes_the_last_back_whatever_the_clock_says() {
    let served = Served::start();
    let browser = served.signed_in("Max");
    let id = browser.begin();
    for clock in CLOCKS {
        served.set_clock(clock);
        write(&browser, id, clock);
        assert_eq!(browser.kept(id).text("/patient/name"), Some(clock));
    }
    for clock in CLOCKS.iter().rev().skip(1) {
        browser.post(&format!("/case/{id}/desk"), &[("do", "undo")]);
        assert_eq!(browser.kept(id).text("/patient/name"), Some(*clock));
    }
}

#[test]
fn after_a_start_with_a_wrong_clock_everything_stands_and_a_tab_overwrites_nothing() {
    let served = Served::start();
    let browser = served.signed_in("Max");
    let id = browser.begin();
    write(&browser, id, "Rosa");
    let (version, cookie) = (browser.get(&format!("/case/{id}/desk")).field("version"), browser.cookie.clone());
    write(&browser, id, "Rosa Beispiel");
    served.set_clock("2099-01-01T00:00:00");
    let again = served.again();
    again.set_clock("2026-08-12T12:00:00");
    let browser = Browser { served: &again, cookie };
    browser.sign_in("Max");
    let fields = [("version", version.as_str()), ("/patient/name", "Rosa"), ("/patient/record_number", "000-900")];
    let page = browser.post(&format!("/case/{id}/desk"), &fields).text();
    let kept = browser.kept(id);
    assert_eq!(kept.text("/patient/name"), Some("Rosa Beispiel"));
    assert_eq!(kept.text("/patient/record_number"), Some("000-900"), "{page}");
    assert_eq!(kept.typed["!/patient/name"], "Rosa");
}

#[test]
fn what_was_issued_stands_and_is_issued_again_once_the_clock_is_right() {
    let served = Served::start_at("2026-08-12T15:12:00");
    let browser = served.signed_in("Ada");
    let id = treated(&browser, "ring-implant");
    let page = format!("/case/{id}/print");
    let issued = |text: &str| text.matches("href=\"/issue/").count();
    let first = issued(&browser.post(&page, &[]).text());
    assert!(first > 0);
    write(&browser, id, "Rosa Beispiel-Anders");
    served.set_clock("2020-01-01T00:00:00");
    let early = browser.post(&page, &[]);
    assert_eq!((early.status, issued(&early.text())), (200, first), "nothing is issued before the treatment");
    served.set_clock("2026-08-12T15:20:00");
    assert!(issued(&browser.post(&page, &[]).text()) > first);
}
