//! What one press does: a dose given now, a time that is now, a name completed, a file of the practice read.

use super::browser::Served;
use super::typed::treated;

#[test]
fn a_dose_given_now_is_one_press() {
    let served = Served::start_at("2026-08-12T13:41:37");
    let browser = served.signed_in("Kim");
    let id = browser.begin();
    let surgeon = browser;
    surgeon.post("/lock", &[]);
    surgeon.sign_in("Ada");
    surgeon.post(&format!("/case/{id}/surgeon"), &[("/plan/regimen", "usual")]);
    let path = format!("/case/{id}/treatment");
    let page = surgeon.get(&path).text();
    let (_, rest) = page.split_once("value=\"given ").unwrap_or_else(|| panic!("{page}"));
    let drug = rest.split('"').next().unwrap().to_owned();
    surgeon.post(&path, &[("do", &format!("given {drug}"))]);
    surgeon.post(&path, &[("do", "now /treatment/last_pulse")]);
    let treatment = surgeon.kept(id).record["treatment"].clone();
    assert_eq!(treatment["clinic_doses"][0]["drug"], drug.as_str());
    let now = treatment["last_pulse"].as_str().unwrap().to_owned();
    assert!(now.starts_with("2026-08-12T09:41"), "{now}");
    assert_eq!(treatment["clinic_doses"][0]["at"], now.as_str());
    surgeon.post(&path, &[("do", "now /treatment/rows")]);
    surgeon.post(&path, &[("do", "now /patient/name")]);
    assert_eq!(surgeon.kept(id).record["treatment"], treatment, "only what is a time becomes one");
    surgeon.post("/lock", &[]);
    surgeon.sign_in("Max");
    surgeon.post(&path, &[("do", &format!("given {drug}"))]);
    assert_eq!(surgeon.kept(id).record["treatment"], treatment, "the front desk gives nothing");
}

#[test]
fn what_leaves_with_the_patient_is_listed_beside_the_treatment() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let id = treated(&browser, "ring-implant");
    for page in ["treatment", "print"] {
        let page = browser.get(&format!("/case/{id}/{page}")).text();
        let along = page.split("Before the patient leaves").nth(1).unwrap_or_else(|| panic!("{page}"));
        let along = along.split("</ul>").next().unwrap();
        assert!(along.contains("bottle") && along.contains("Calendar file"), "{along}");
    }
}

#[test]
fn names_of_medicines_and_drops_are_completed_by_the_browser() {
    let served = Served::start();
    let browser = served.signed_in("Kim");
    let id = browser.begin();
    let page = browser.get(&format!("/case/{id}/nurse")).text();
    for list in ["medicines", "eye_drops"] {
        let (_, field) = page.split_once(&format!("name=\"&#x2f;health&#x2f;{list}&#x2f;0\"")).unwrap();
        assert!(field.split('>').next().unwrap().contains("list=\"names\""), "{list}");
    }
    let names = page.split("<datalist id=\"names\">").nth(1).unwrap().split("</datalist>").next().unwrap();
    for name in ["lisinopril", "timolol"] {
        assert!(names.contains(&format!("value=\"{name}\"")), "{name}");
    }
}

#[test]
fn what_a_clinician_confirms_can_be_read_and_nothing_else() {
    let served = Served::start();
    let browser = served.signed_in("Kim");
    let page = browser.get("/practice").text();
    assert!(
        page.contains("href=\"/practice/file?path=templates") && page.contains("English (United States)"),
        "{page}"
    );
    let file = browser.get("/practice/file?path=templates/findings.toml");
    assert!(file.status == 200 && file.text().contains("[[finding]]"));
    for path in ["../profile.toml", "templates/desk/base.html", "/etc/passwd", "", "register.sqlite3"] {
        assert_eq!(browser.get(&format!("/practice/file?path={path}")).status, 404, "{path}");
    }
}
