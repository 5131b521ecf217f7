//! A file of another system at the desk: what comes is shown, and a case begins only once somebody accepts it.

use serde_json::json;

use super::browser::{Answer, Browser, Served};

/// Sends a file with the token of the desk, as a browser sends a chosen one.
fn send(browser: &Browser, side: &str, file: &str) -> Answer {
    let part =
        |head: &str, content: &str| format!("--x\r\nContent-Disposition: form-data; {head}\r\n\r\n{content}\r\n");
    let body = [
        part("name=\"token\"", &browser.token()),
        part("name=\"side\"", side),
        part("name=\"file\"; filename=\"bundle.json\"", file),
        "--x--\r\n".to_owned(),
    ]
    .concat();
    let head = format!(
        "POST /take-in HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\nCookie: {}\r\nSec-Fetch-Site: same-origin\r\n\
         Content-Type: multipart/form-data; boundary=x\r\nContent-Length: {}\r\n\r\n",
        browser.served.port,
        browser.cookie,
        body.len()
    );
    browser.served.send(format!("{head}{body}").as_bytes())
}

fn bundle() -> String {
    let loinc = |code: &str| json!({ "coding": [{ "system": "http://loinc.org", "code": code }] });
    let mercury = |value: i32| json!({ "value": value, "system": "http://unitsofmeasure.org", "code": "mm[Hg]" });
    let snomed = |code: &str| json!({ "coding": [{ "system": "http://snomed.info/sct", "code": code }] });
    let of = json!({ "reference": "Patient/p" });
    let entries = [
        json!({ "resourceType": "Patient", "id": "p", "name": [{ "text": "Rosa <b>Beispiel</b>" }], "birthDate": "1955-03-02" }),
        json!({ "resourceType": "Observation", "id": "o", "status": "final", "subject": of, "code": loinc("79892-6"), "valueQuantity": mercury(15) }),
        json!({ "resourceType": "Condition", "id": "g", "subject": of, "code": snomed("23986001") }),
        json!({ "resourceType": "Condition", "id": "r", "subject": of, "code": snomed("195967001"), "verificationStatus": "refuted" }),
    ];
    let entries: Vec<_> = entries.into_iter().map(|resource| json!({ "resource": resource })).collect();
    json!({ "resourceType": "Bundle", "type": "collection", "entry": entries }).to_string()
}

#[test]
fn what_comes_is_shown_and_accepted_once() {
    let served = Served::start();
    let browser = served.signed_in("Kim");
    let page = send(&browser, "right", &bundle()).text().replace('\u{a0}', " ");
    for said in
        ["Rosa &lt;b&gt;Beispiel", "Wednesday, March 2, 1955", "15 mmHg", "it does not say which eye", "refuted there"]
    {
        assert!(page.contains(said), "{said}: {page}");
    }
    let begun = browser.post("/take-in/accept", &[]);
    assert!(begun.text().contains("Begun with what came: 3 values"), "{}", begun.text());
    let kept = browser.kept(1);
    assert_eq!(kept.text("/patient/name"), Some("Rosa <b>Beispiel</b>"));
    assert_eq!((kept.text("/eye/side"), kept.code().is_some()), (Some("right"), true));
    assert_eq!(kept.record.pointer("/history/glaucoma"), None);
    assert_eq!(kept.record.pointer("/health/asthma"), None);
    browser.post("/take-in/accept", &[]);
    assert!(!browser.get("/case/2/desk").text().contains("Beispiel"), "no second case");
}

#[test]
fn a_file_that_cannot_be_read_says_why_and_the_front_desk_takes_none_in() {
    let served = Served::start();
    let nurse = served.signed_in("Kim");
    assert!(send(&nurse, "", "<Patient/>").text().contains("This file is no JSON"));
    assert!(send(&nurse, "", "{}").text().contains("holds no resource"));
    assert!(send(&nurse, "", "").text().contains("Choose a file first."));
    send(&nurse, "", &bundle());
    assert!(!nurse.post("/take-in/accept", &[("do", "discard")]).text().contains("Beispiel"));
    nurse.post("/lock", &[]);
    nurse.sign_in("Max");
    assert_eq!(nurse.get("/take-in").status, 404);
    assert!(!nurse.get("/day").text().contains("/take-in"));
}
