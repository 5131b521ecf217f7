//! What one press does: a dose given now, a time that is now, a name completed, a file of the practice read.

use super::browser::Served;
use super::typed::{planned, treated};

#[test]
fn the_eye_beside_the_form_moves_with_the_numbers() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let id = planned(&browser, "ring-implant");
    let path = format!("/case/{id}/surgeon");
    let eye = |fields: &[(&str, &str)]| {
        let page = browser.post(&path, fields).text();
        let (_, rest) = page.split_once("<svg class=\"eye\" role=\"img\" aria-label=\"").expect("the eye");
        rest.split("</svg>").next().unwrap().to_owned()
    };
    let near = eye(&[("/floater/lens_distance_mm", "5.5")]);
    assert!(near.contains("Lens to floater 5.5\u{a0}mm") && near.contains("3\u{a0}mm kept free"), "{near}");
    let far = eye(&[("/floater/lens_distance_mm", "6.5")]);
    assert!(far.contains("Lens to floater 6.5\u{a0}mm"), "{far}");
    let paths = |svg: &str| svg.split("<path").skip(1).map(str::to_owned).collect::<Vec<_>>();
    assert_ne!(paths(&near), paths(&far), "the drawing moves, not the words alone");
    let unknown = eye(&[("/floater/lens_distance_mm", ""), ("~/floater/lens_distance_mm", "on")]);
    assert!(unknown.contains("How far the lens is from the floater is not recorded"), "{unknown}");
    assert!(!browser.get(&format!("/case/{id}/desk")).text().contains("<svg class=\"eye\""), "the desk does not aim");
}

#[test]
fn the_page_beside_the_form_is_the_one_that_the_last_change_altered() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let id = browser.begin();
    let beside = |id: u32| browser.get(&format!("/case/{id}/preview")).text();
    assert!(beside(id).contains("once nothing is missing") && !beside(id).contains("<img"));
    let id = planned(&browser, "ring-implant");
    browser.post(&format!("/case/{id}/desk"), &[("/plan/place", "Another laser room")]);
    let page = browser.get(&format!("/case/{id}/desk")).text();
    let version = browser.get(&format!("/case/{id}/desk")).field("version");
    assert!(page.contains(&format!("/page/{version}-altered.svg")), "{page}");
    let picture = browser.get(&format!("/case/{id}/page/{version}-altered.svg"));
    let plain = browser.get(&format!("/case/{id}/page/{version}-1.svg"));
    assert_eq!((picture.status, picture.header("content-type")), (200, Some("image/svg+xml")));
    assert!(picture.text().ends_with("</svg>") && picture.body.len() > plain.body.len(), "a double bar is drawn");
    let seen = beside(id);
    assert!(seen.contains("The last change altered") && seen.contains("changed: "), "{seen}");
    browser.post(&format!("/case/{id}/nurse"), &[("/eye/pressure_mmhg", "13")]);
    assert!(beside(id).contains("Page 1 of"), "{}", beside(id));
    assert_eq!(browser.get(&format!("/case/{id}/page/{version}-altered.svg")).status, 404, "an earlier version");
}

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
    let names = page.split("<datalist id=\"names\"").nth(1).unwrap().split("</datalist>").next().unwrap();
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

#[test]
fn what_is_written_beside_the_form_outlives_a_wrong_passphrase_and_a_reload() {
    const REASON: &str = "Examined again today with indentation: no break.";
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let id = planned(&browser, "young-detachment");
    let path = format!("/case/{id}/surgeon");
    let field = "name=\"reason detachment-young\" rows=\"2\">";
    let stands = || browser.get(&path).text().contains(&format!("{field}{REASON}"));
    browser.post(&path, &[("reason detachment-young", REASON), ("do", "live")]);
    assert!(stands(), "{}", browser.get(&path).text());
    let sign = |passphrase: &str| {
        let fingerprint = browser.get(&path).field("fingerprint detachment-young");
        let fields = [
            ("do", "sign detachment-young"),
            ("reason detachment-young", REASON),
            ("passphrase detachment-young", passphrase),
            ("fingerprint detachment-young", &fingerprint),
        ];
        browser.post(&path, &fields).text()
    };
    assert!(sign("wrong").contains("This is not your passphrase."));
    assert!(stands() && browser.kept(id).record.get("answers").is_none());
    assert!(sign(super::browser::PASSPHRASE).contains("Answered by Ada."));
    assert_eq!(browser.kept(id).record["answers"][0]["reason"], REASON);
    let pages = format!("/case/{id}/pages");
    let own = [("do", "own"), ("own", "We spoke about your work."), ("own_reason", ""), ("own_passphrase", "")];
    assert!(browser.post(&pages, &own).text().contains(">We spoke about your work.</textarea>"));
}
