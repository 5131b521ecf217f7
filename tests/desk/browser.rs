//! A desk that answers on this machine, and a browser of few words.

use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;

use chrono::NaiveDateTime;
use vitreoleaf::desk::{Desk, Memory};
use vitreoleaf::record::form::KnownBy;
use vitreoleaf::register::{CaseFile, Passphrase, Person, Register};

use crate::packets::practice;

/// Everybody's passphrase.
pub(super) const PASSPHRASE: &str = "correct horse battery";

/// A surgeon of the demo's practice, who signed what its cases hold signed.
pub(super) const SURGEON: &str = "Dr. Ada Sample";

pub(super) const PEOPLE: [(&str, KnownBy); 4] =
    [("Ada", KnownBy::Surgeon), (SURGEON, KnownBy::Surgeon), ("Kim", KnownBy::Nurse), ("Max", KnownBy::Desk)];

/// Address of what is issued first: in the ledger the people stand before it.
pub(super) const FIRST_ISSUE: &str = "/issue/5";
const _: () = assert!(PEOPLE.len() == 4);

/// A desk that runs until it is dropped.
pub(super) struct Served {
    pub(super) port: u16,
    pub(super) key: String,
    pub(super) register: PathBuf,
    now: Arc<Mutex<NaiveDateTime>>,
    /// While this is set the program panics as soon as it asks for the time.
    pub(super) broken: Arc<AtomicBool>,
    _folder: tempfile::TempDir,
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

fn time(text: &str) -> NaiveDateTime {
    NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M:%S").unwrap()
}

/// The profile of the demo, in which Ada may answer findings.
fn with_ada(profile: String) -> String {
    profile.replace("[[clinicians]]", "[[clinicians]]\nname = \"Ada\"\nrole = \"surgeon\"\n\n[[clinicians]]")
}

impl Served {
    /// A desk of the demo's practice with nobody's case, on the morning of 12 August 2026.
    pub(super) fn start() -> Self {
        Self::start_at("2026-08-12T12:00:00")
    }

    /// The same at another time, UTC.
    pub(super) fn start_at(now: &'static str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let register = folder.path().join("register.sqlite3");
        let mut store = Register::in_file(&register).unwrap();
        let passphrase = Passphrase::new(PASSPHRASE).unwrap();
        for (name, role) in PEOPLE {
            store
                .put_person(&Person { name: name.into(), role, passphrase: passphrase.clone() }, PEOPLE[0].0, time(now))
                .unwrap();
        }
        Self::of(folder, register, Arc::new(Mutex::new(time(now))))
    }

    fn of(folder: tempfile::TempDir, register: PathBuf, now: Arc<Mutex<NaiveDateTime>>) -> Self {
        let broken = Arc::new(AtomicBool::new(false));
        let (breaks, shown) = (Arc::clone(&broken), Arc::clone(&now));
        let clock = move || {
            assert!(!breaks.load(Ordering::Relaxed), "on purpose");
            *shown.lock().unwrap()
        };
        let store = Register::in_file(&register).unwrap();
        let memory = Memory::at(&folder.path().join("desk.json"));
        let desk = Desk::new(practice(with_ada, BTreeMap::new()), store, Box::new(clock), None, memory).unwrap();
        let address = desk.address().strip_prefix("http://127.0.0.1:").expect("this machine").to_owned();
        let (port, key) = address.split_once("/open/").unwrap();
        let (port, key) = (port.parse().unwrap(), key.to_owned());
        let stop = Arc::new(AtomicBool::new(false));
        let asked = Arc::clone(&stop);
        let thread = std::thread::spawn(move || desk.serve(move || asked.load(Ordering::Relaxed)).unwrap());
        Self { port, key, register, now, broken, _folder: folder, stop, thread: Some(thread) }
    }

    /// Ends it and starts it again over the same register.
    pub(super) fn again(mut self) -> Self {
        self.end();
        let folder = std::mem::replace(&mut self._folder, tempfile::tempdir().unwrap());
        Self::of(folder, self.register.clone(), Arc::clone(&self.now))
    }

    /// Another machine's desk of the same register.
    pub(super) fn elsewhere(&self) -> Self {
        Self::of(tempfile::tempdir().unwrap(), self.register.clone(), Arc::clone(&self.now))
    }

    /// Sets the clock of the machine, UTC.
    pub(super) fn set_clock(&self, to: &str) {
        *self.now.lock().unwrap() = time(to);
    }

    fn end(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        if let Some(thread) = self.thread.take() {
            thread.join().unwrap();
        }
    }

    /// Sends these bytes and reads until the other side closes.
    pub(super) fn send(&self, request: &[u8]) -> Answer {
        let mut stream = TcpStream::connect(("127.0.0.1", self.port)).unwrap();
        let _ = stream.write_all(request); // a refusal may come before all is sent
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        Answer::read(&bytes)
    }

    /// A request with the headers a browser sends; those given come instead.
    pub(super) fn ask(&self, method: &str, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
        let host = format!("127.0.0.1:{}", self.port);
        let mut all = vec![("Host", host.as_str()), ("Connection", "close")];
        all.retain(|(name, _)| headers.iter().all(|(own, _)| own != name));
        all.extend(headers);
        let mut request = format!("{method} {path} HTTP/1.1\r\n");
        for (name, value) in all {
            request += &format!("{name}: {value}\r\n");
        }
        if method == "POST" {
            request += "Content-Type: application/x-www-form-urlencoded\r\n";
            request += &format!("Content-Length: {}\r\n", body.len());
        }
        self.send(format!("{request}\r\n{body}").as_bytes())
    }

    /// A browser that was let in.
    pub(super) fn browser(&self) -> Browser<'_> {
        let entered = self.ask("GET", &format!("/open/{}", self.key), &[], "");
        assert_eq!(entered.status, 200, "{}", entered.text());
        let cookie = entered.header("set-cookie").expect("a cookie").split(';').next().unwrap().to_owned();
        Browser { served: self, cookie }
    }

    /// A browser in which somebody has signed in.
    pub(super) fn signed_in(&self, name: &str) -> Browser<'_> {
        let browser = self.browser();
        browser.sign_in(name);
        browser
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        self.end();
    }
}

/// What came back.
pub(super) struct Answer {
    pub(super) status: u16,
    headers: Vec<(String, String)>,
    pub(super) body: Vec<u8>,
}

impl Answer {
    fn read(bytes: &[u8]) -> Self {
        let end = bytes.windows(4).position(|four| four == b"\r\n\r\n").map_or(bytes.len(), |at| at + 4);
        let head = String::from_utf8_lossy(&bytes[..end]).into_owned();
        let mut lines = head.lines();
        let status = lines.next().and_then(|line| line.split(' ').nth(1)).and_then(|code| code.parse().ok());
        let pair = |line: &str| line.split_once(": ").map(|(name, value)| (name.to_lowercase(), value.to_owned()));
        Self { status: status.unwrap_or(0), headers: lines.filter_map(pair).collect(), body: bytes[end..].to_vec() }
    }

    pub(super) fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(own, _)| own == name).map(|(_, value)| value.as_str())
    }

    pub(super) fn text(&self) -> String {
        String::from_utf8_lossy(&self.body).into_owned()
    }

    /// The value of the first field of a name.
    pub(super) fn field(&self, name: &str) -> String {
        let text = self.text();
        let (_, rest) =
            text.split_once(&format!("name=\"{name}\" value=\"")).unwrap_or_else(|| panic!("no {name}: {text}"));
        rest.split('"').next().unwrap().to_owned()
    }
}

/// A browser with the cookie of a desk.
pub(super) struct Browser<'a> {
    pub(super) served: &'a Served,
    pub(super) cookie: String,
}

impl Browser<'_> {
    /// A page; it goes on as a browser does.
    pub(super) fn get(&self, path: &str) -> Answer {
        let answer = self.served.ask("GET", path, &[("Cookie", &self.cookie)], "");
        self.follow(answer)
    }

    /// Sends a form with the token of the desk.
    pub(super) fn post(&self, path: &str, fields: &[(&str, &str)]) -> Answer {
        let mut all = vec![("token".to_owned(), self.token())];
        all.extend(fields.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())));
        self.post_as_it_is(path, &all)
    }

    pub(super) fn post_as_it_is(&self, path: &str, fields: &[(String, String)]) -> Answer {
        let headers = [("Cookie", self.cookie.as_str()), ("Sec-Fetch-Site", "same-origin")];
        let answer = self.served.ask("POST", path, &headers, &form(fields));
        self.follow(answer)
    }

    fn follow(&self, answer: Answer) -> Answer {
        match answer.header("location") {
            Some(to) => self.get(to.split('#').next().unwrap()),
            None => answer,
        }
    }

    pub(super) fn token(&self) -> String {
        // Every page has a form.
        self.get("/day").field("token")
    }

    pub(super) fn sign_in(&self, name: &str) {
        let page = self.post("/sign-in", &[("name", name), ("passphrase", PASSPHRASE)]);
        assert!(page.text().contains(&format!("<b>{name}</b>")), "{}", page.text());
    }

    /// The case as it is kept.
    pub(super) fn kept(&self, id: u32) -> CaseFile {
        Register::in_file(&self.served.register).unwrap().case(id.into()).unwrap().expect("a case").file
    }

    /// A new case; its number.
    pub(super) fn begin(&self) -> u32 {
        let page = self.post("/case", &[]);
        let text = page.text();
        let (_, rest) = text.split_once("action=\"/case/").expect("a case");
        rest.split('/').next().unwrap().parse().unwrap()
    }
}

/// Fields as a form sends them.
pub(super) fn form(fields: &[(String, String)]) -> String {
    let fields: Vec<String> = fields.iter().map(|(name, value)| format!("{}={}", coded(name), coded(value))).collect();
    fields.join("&")
}

/// A text as a form sends it.
fn coded(text: &str) -> String {
    text.bytes()
        .map(|byte| if byte.is_ascii_alphanumeric() { char::from(byte).to_string() } else { format!("%{byte:02X}") })
        .collect()
}
