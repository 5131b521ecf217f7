//! What another page of the same browser, another user of the machine, or a name that leads here can try.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use chrono::NaiveDateTime;
use vitreoleaf::record::form::KnownBy;
use vitreoleaf::register::Register;

use super::browser::{PASSPHRASE, Served};

/// Addresses there are, and some there are not.
const ADDRESSES: [&str; 8] =
    ["/", "/day", "/practice", "/sign-in", "/case/1/desk", "/case/1/print", "/issue/1/0", "/style.css"];

#[test]
fn the_desk_answers_under_its_own_name_only() {
    let served = Served::start();
    let port = served.port;
    for host in
        ["localhost", "127.0.0.1", "evil.example", &format!("localhost:{port}"), &format!("evil.example:{port}"), ""]
    {
        for path in ADDRESSES {
            assert_eq!(served.ask("GET", path, &[("Host", host)], "").status, 421, "{host} {path}");
        }
        let entered = served.ask("GET", &format!("/open/{}", served.key), &[("Host", host)], "");
        assert_eq!((entered.status, entered.header("set-cookie")), (421, None), "{host}");
    }
    let own = format!("127.0.0.1:{port}");
    let absolute = format!("GET http://evil.example/day HTTP/1.1\r\nHost: {own}\r\nConnection: close\r\n\r\n");
    assert_ne!(served.send(absolute.as_bytes()).status, 200);
    let twice = format!("GET /day HTTP/1.1\r\nHost: {own}\r\nHost: evil.example\r\nConnection: close\r\n\r\n");
    assert_ne!(served.send(twice.as_bytes()).status, 200);
}

#[test]
fn without_the_key_there_is_no_page() {
    let served = Served::start();
    for path in ADDRESSES.iter().chain(&["/open/", "/open/0000", "/open"]) {
        for headers in [&[][..], &[("Cookie", "vitreoleaf=1")], &[("Cookie", "")]] {
            let answer = served.ask("GET", path, headers, "");
            assert_eq!((answer.status, answer.header("set-cookie")), (403, None), "{path}");
        }
        assert_eq!(served.ask("POST", path, &[], "name=Ada").status, 403, "{path}");
    }
}

#[test]
fn the_key_lets_one_browser_in_once() {
    let served = Served::start();
    let entered = served.ask("GET", &format!("/open/{}", served.key), &[("Sec-Fetch-Site", "cross-site")], "");
    let cookie = entered.header("set-cookie").expect("a cookie");
    assert!(cookie.starts_with(&format!("vitreoleaf-{}=", served.port)), "{cookie}");
    assert!(cookie.ends_with("; HttpOnly; SameSite=Strict; Path=/"), "{cookie}");
    assert!(entered.text().contains("http-equiv=\"refresh\""));
    assert_eq!(served.ask("GET", &format!("/open/{}", served.key), &[], "").status, 403);
}

#[test]
fn who_has_the_key_still_signs_in() {
    let served = Served::start();
    let browser = served.browser();
    for path in ["/day", "/case/1/desk", "/practice", "/issue/1/0"] {
        assert!(browser.get(path).text().contains("name=\"passphrase\""), "{path}");
    }
    let wrong = browser.post("/sign-in", &[("name", "Ada"), ("passphrase", "wrong")]);
    assert!(wrong.text().contains("This is not the passphrase of Ada."), "{}", wrong.text());
    let nobody = browser.post("/sign-in", &[("name", "Mallory"), ("passphrase", PASSPHRASE)]);
    assert!(nobody.text().contains("name=\"passphrase\""));
    browser.sign_in("Ada");
}

#[test]
fn after_five_wrong_passphrases_the_right_one_waits_too() {
    let served = Served::start();
    let browser = served.browser();
    for _ in 0..5 {
        browser.post("/sign-in", &[("name", "Ada"), ("passphrase", "wrong")]);
    }
    let right = browser.post("/sign-in", &[("name", "Ada"), ("passphrase", PASSPHRASE)]);
    assert!(right.text().contains("Too many wrong passphrases for Ada."));
    browser.sign_in("Max");
}

#[test]
fn another_page_changes_nothing() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let token = browser.token();
    let body = format!("token={token}");
    let own = format!("http://127.0.0.1:{}", served.port);
    let cookie = browser.cookie.as_str();
    for headers in [
        [("Cookie", cookie), ("Sec-Fetch-Site", "cross-site")],
        [("Cookie", cookie), ("Sec-Fetch-Site", "same-site")],
        [("Cookie", cookie), ("Origin", "http://evil.example")],
        [("Cookie", cookie), ("Origin", "null")],
        [("Cookie", cookie), ("Origin", "http://127.0.0.1:1")],
    ] {
        assert_eq!(served.ask("POST", "/case", &headers, &body).status, 403, "{headers:?}");
    }
    for body in ["", "token=", "token=0000", &format!("token={}", &token[1..])] {
        assert_eq!(served.ask("POST", "/case", &[("Cookie", cookie)], body).status, 403, "{body}");
    }
    assert!(!browser.get("/day").text().contains("href=\"/case/"));
    let right = [("Cookie", cookie), ("Origin", own.as_str()), ("Sec-Fetch-Site", "same-origin")];
    assert_eq!(served.ask("POST", "/case", &right, &body).status, 303);
}

#[test]
fn every_answer_says_what_a_page_may_do() {
    let served = Served::start();
    let browser = served.browser();
    let cookie = [("Cookie", browser.cookie.as_str())];
    let refused = served.ask("GET", "/day", &[("Host", "evil.example")], "");
    for answer in [served.ask("GET", "/sign-in", &cookie, ""), served.ask("GET", "/style.css", &cookie, ""), refused] {
        let policy = answer.header("content-security-policy").expect("a policy");
        assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{policy}");
        assert_eq!(answer.header("cache-control"), Some("no-store"));
        assert_eq!(answer.header("x-content-type-options"), Some("nosniff"));
        assert_eq!(answer.header("access-control-allow-origin"), None);
    }
    for method in ["PUT", "DELETE", "OPTIONS", "HEAD", "TRACE", "PATCH", "CONNECT", "BREW"] {
        let answer = served.ask(method, "/day", &cookie, "");
        assert!((400..=405).contains(&answer.status), "{method} {}", answer.status);
    }
}

#[test]
fn addresses_lead_to_pages_and_never_to_files() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    for path in [
        "/../../etc/passwd",
        "/case/../../../etc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
        "/style.css/../../profile.toml",
        "/templates/desk/base.html",
        "/issue/1/..%2f..%2fregister.sqlite3",
        "/case/-1/desk",
        "/case/99999999999999999999/desk",
        "/case/1%00/desk",
        "/case/1/answers",
        "/register.sqlite3",
        "/day/x",
    ] {
        assert_eq!(browser.get(path).status, 404, "{path}");
    }
}

#[test]
fn what_is_too_large_or_no_form_is_refused() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let large = "x".repeat(300 * 1024);
    let answer = served.ask("POST", "/case", &[("Cookie", &browser.cookie)], &large);
    assert!([0, 413].contains(&answer.status), "{}", answer.status);
    let json = "POST /case HTTP/1.1\r\nHost: 127.0.0.1:PORT\r\nConnection: close\r\nContent-Type: application/json\r\nContent-Length: 2\r\n\r\n{}";
    let answer = served.send(json.replace("PORT", &served.port.to_string()).as_bytes());
    assert_eq!(answer.status, 415);
    assert_eq!(served.send(b"\x16\x03\x01\x00 no HTTP at all\r\n\r\n").status, 400);
    assert_eq!(browser.get("/day").status, 200, "the desk goes on");
}

#[test]
fn each_role_fills_in_what_it_knows_and_only_a_surgeon_signs() {
    let served = Served::start();
    let id = served.signed_in("Max").begin();
    let again = served.again();
    let browser = again.browser();
    let lens = |name: &str| {
        browser.sign_in(name);
        browser.post(&format!("/case/{id}/surgeon"), &[("/eye/lens", "natural")]);
        browser.post(&format!("/case/{id}/nurse"), &[("/health/asthma", "no")]);
        let page = browser.get(&format!("/case/{id}/surgeon")).text();
        let signs = page.contains("name=\"do\" value=\"sign ");
        browser.post("/lock", &[]);
        (page.contains("value=\"natural\" checked"), signs)
    };
    assert_eq!(lens("Max"), (false, false));
    assert_eq!(lens("Kim"), (false, false));
    assert_eq!(lens("Ada"), (true, true));
    browser.sign_in("Max");
    let signed = [("do", "sign lens-unknown"), ("reason lens-unknown", "x"), ("passphrase lens-unknown", PASSPHRASE)];
    let page = browser.post(&format!("/case/{id}/surgeon"), &signed);
    assert!(!page.text().contains("Answered by"));
}

#[test]
fn what_was_typed_before_the_desk_was_locked_is_taken_in_after_signing_in() {
    let served = Served::start();
    let browser = served.signed_in("Max");
    let id = browser.begin();
    let token = browser.token();
    browser.post("/lock", &[]);
    let typed = [("token".to_owned(), token), ("/patient/name".to_owned(), "Rosa Beispiel".to_owned())];
    let door = browser.post_as_it_is(&format!("/case/{id}/desk"), &typed);
    assert!(door.text().contains("name=\"passphrase\"") && !door.text().contains("Rosa"));
    browser.sign_in("Max");
    assert!(browser.get(&format!("/case/{id}/desk")).text().contains("value=\"Rosa Beispiel\""));
}

#[test]
fn who_has_another_role_or_is_taken_out_is_signed_out_at_once() {
    let served = Served::start();
    let browser = served.signed_in("Max");
    let is_open = || !browser.get("/day").text().contains("name=\"passphrase\"");
    assert!(is_open());
    let mut register = Register::in_file(&served.register).unwrap();
    let mut max = register.people().unwrap().into_iter().find(|person| person.name == "Max").unwrap();
    max.role = KnownBy::Nurse;
    let at = NaiveDateTime::default();
    register.put_person(&max, "Ada", at).unwrap();
    assert!(!is_open());
    browser.sign_in("Max");
    assert!(is_open());
    register.take_out_person("Max", "Ada", at).unwrap();
    assert!(!is_open() && !browser.get("/sign-in").text().contains("value=\"Max\""));
}

#[test]
fn desks_of_one_register_keep_their_ports_and_browsers_for_themselves() {
    let here = Served::start();
    let there = here.elsewhere();
    let ports = (here.port, there.port);
    assert_ne!(ports.0, ports.1);
    let (own, other) = (here.browser().cookie, there.browser().cookie);
    let (here, there) = (here.again(), there.again());
    assert_eq!((here.port, there.port), ports, "each has its own again");
    let lets_in = |served: &Served, cookie: &str| {
        let value = cookie.split_once('=').unwrap().1;
        let cookie = format!("vitreoleaf-{}={value}", served.port);
        served.ask("GET", "/sign-in", &[("Cookie", &cookie)], "").status == 200
    };
    assert!(lets_in(&here, &own) && lets_in(&there, &other), "whom it knows");
    assert!(!lets_in(&here, &other) && !lets_in(&there, &own), "nobody else's browser");
}

#[test]
fn a_tab_goes_on_after_the_program_was_started_again() {
    let served = Served::start();
    let (id, cookie, token, port) = {
        let browser = served.signed_in("Max");
        (browser.begin(), browser.cookie.clone(), browser.token(), served.port)
    };
    let again = served.again();
    assert_eq!(again.port, port, "the same address");
    let browser = super::browser::Browser { served: &again, cookie };
    let typed = [("token".to_owned(), token), ("/patient/name".to_owned(), "Rosa Beispiel".to_owned())];
    assert!(browser.post_as_it_is(&format!("/case/{id}/desk"), &typed).text().contains("name=\"passphrase\""));
    browser.sign_in("Max");
    assert!(browser.get(&format!("/case/{id}/desk")).text().contains("value=\"Rosa Beispiel\""));
}

#[test]
fn a_panic_in_one_request_is_one_failed_page_and_costs_no_case() {
    let served = Served::start();
    let browser = served.signed_in("Max");
    let id = browser.begin();
    let page = format!("/case/{id}/desk");
    browser.post(&page, &[("/patient/name", "Rosa Beispiel")]);
    let token = browser.token();
    let typed = [("token".to_owned(), token), ("/patient/name".to_owned(), "Another Name".to_owned())];
    served.broken.store(true, Ordering::Relaxed);
    let failed = browser.post_as_it_is(&page, &typed);
    served.broken.store(false, Ordering::Relaxed);
    assert_eq!(failed.status, 500);
    assert!(!failed.text().contains("Name") && !failed.text().contains("on purpose"), "{}", failed.text());
    assert!(browser.get(&page).text().contains("value=\"Rosa Beispiel\""), "the desk goes on, and the case stands");
    browser.post(&page, &[("/patient/name", "Another Name")]);
    assert!(browser.get(&page).text().contains("value=\"Another Name\""));
}

#[test]
fn who_asks_for_nothing_is_let_go_and_the_next_in_line_gets_a_page() {
    let served = Served::start();
    let began = Instant::now();
    // As many as the desk takes at once: each begins a request and leaves it at that.
    let mut waiting: Vec<TcpStream> = (0..64)
        .map(|_| {
            let mut stream = TcpStream::connect(("127.0.0.1", served.port)).unwrap();
            stream.write_all(b"GET /day HTTP/1.1\r\nHost: ").unwrap();
            stream
        })
        .collect();
    assert_eq!(served.ask("GET", "/day", &[], "").status, 403);
    assert!((Duration::from_secs(5)..Duration::from_secs(50)).contains(&began.elapsed()), "{:?}", began.elapsed());
    for stream in &mut waiting {
        let mut rest = Vec::new();
        let _ = stream.read_to_end(&mut rest); // it may also be broken off
        assert!(!rest.starts_with(b"HTTP/1.1 200"));
    }
}

#[test]
fn enter_in_a_field_saves_and_never_locks() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let id = browser.begin();
    // A browser presses the first button of the form.
    let page = browser.get(&format!("/case/{id}/desk")).text();
    let button = |what: &str| page.find(&format!("value=\"{what}\"")).expect("a button");
    assert!(button("save") < button("lock"));
}
