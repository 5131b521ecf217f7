//! A file that somebody brings back, chosen at the desk.

use vitreoleaf::verify::LARGEST;

use super::browser::{Answer, Browser, FIRST_ISSUE, Served};
use super::typed::planned;

/// Sends a file as a form does, with this token.
fn send(browser: &Browser, token: &str, bytes: &[u8]) -> Answer {
    let (served, cookie) = (browser.served, &browser.cookie);
    let part = |head: &str| format!("--part\r\nContent-Disposition: form-data; name={head}\r\n\r\n");
    let fields = format!("{}{token}\r\n{}", part("\"token\""), part("\"file\"; filename=\"page.pdf\""));
    let body = [fields.as_bytes(), bytes, b"\r\n--part--\r\n"].concat();
    let head = format!(
        "POST /verify HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nConnection: close\r\nCookie: {cookie}\r\nSec-Fetch-Site: same-origin\r\n\
         Content-Type: multipart/form-data; boundary=part\r\nContent-Length: {}\r\n\r\n",
        served.port,
        body.len()
    );
    served.send(&[head.as_bytes(), &body].concat())
}

#[test]
fn a_file_is_compared_with_what_was_issued() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let case = planned(&browser, "ring-implant");
    browser.post(&format!("/case/{case}/print"), &[]);
    let issued = browser.get(&format!("{FIRST_ISSUE}/0")).body;
    let token = browser.token();
    let page = send(&browser, &token, &issued).text();
    assert!(page.contains("Whole: byte for byte") && page.contains("EX-01-before-consent r1 "), "{page}");
    let page = send(&browser, &token, &[&issued[..], b"\nsigned"].concat()).text();
    assert!(page.contains("Whole, with something appended"), "{page}");
    let page = send(&browser, &token, b"BEGIN:VCALENDAR").text();
    assert!(page.contains("cannot be read as PDF"), "{page}");
}

#[test]
fn a_file_passes_the_same_gates_as_every_form() {
    let served = Served::start();
    let browser = served.signed_in("Max");
    let token = browser.token();
    assert_eq!(send(&browser, "another", b"%PDF-").status, 403);
    let stranger = Browser { served: &served, cookie: "vitreoleaf=none".into() };
    assert_eq!(send(&stranger, &token, b"%PDF-").status, 403);
    let locked = browser.post("/lock", &[]);
    assert!(locked.text().contains("passphrase"));
    let door = send(&browser, &token, b"%PDF-");
    assert_eq!((door.status, door.header("location")), (303, Some("/sign-in")));
}

#[test]
fn a_file_that_is_too_large_is_not_taken() {
    let served = Served::start();
    let browser = served.signed_in("Max");
    let token = browser.token();
    let page = send(&browser, &token, &vec![b' '; LARGEST + 1]);
    assert!(page.text().contains("larger than 8 MB"), "{}", page.text());
    assert_eq!(send(&browser, &token, &vec![b' '; LARGEST + (1 << 17)]).status, 413);
}
