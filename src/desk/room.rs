//! The room everything of the desk stands in: practice, register, pages, and who came in. One thread owns it.

use std::path::PathBuf;

use chrono::{NaiveDate, NaiveDateTime, TimeZone};
use serde::Serialize;

use super::answer::Answer;
use super::batch::Batch;
use super::error::DeskError;
use super::form::Form;
use super::gate::{Gate, Who, token};
use super::judge::{self, Judged};
use super::pages::Pages;
use super::words::Words;
use crate::facts::beside::Beside;
use crate::practice::{Checked, Practice};
use crate::record::Record;
use crate::record::form::KnownBy;
use crate::record::typed::Around;
use crate::register::{Act, CaseFile, CaseId, Filed, Person, Register, RegisterError};

/// How long after it locks itself a page asks, seconds: its last save may have come a little after the last touch.
const AFTER_IDLE: u32 = 5;

/// The clock, UTC.
pub type Clock = Box<dyn Fn() -> NaiveDateTime + Send>;

/// The room.
pub(super) struct Room {
    pub(super) practice: Practice,
    /// Where the practice is kept; the example is kept nowhere.
    pub(super) folder: Option<PathBuf>,
    pub(super) register: Register,
    pub(super) form: Form,
    pub(super) words: Words,
    pub(super) pages: Pages,
    pub(super) gate: Gate,
    pub(super) clock: Clock,
    /// The day that is issued as a batch, or was last.
    pub(super) batch: Option<Batch>,
    /// The passphrase of everybody in the example; none in a practice of somebody's own.
    pub(super) example: Option<&'static str>,
    pub(super) idle_minutes: u32,
}

/// What every page shows.
#[derive(Debug, Serialize)]
pub(super) struct Frame {
    practice: String,
    banner: Option<String>,
    example: bool,
    language: String,
    right_to_left: bool,
    who: Option<Shown>,
    token: String,
    now: String,
    clock: String,
    here: &'static str,
    told: Option<String>,
    /// After so many seconds without a touch the desk is locked, and a page asks for itself again.
    idle_seconds: u32,
}

/// Somebody, as a page shows them.
#[derive(Debug, Serialize)]
struct Shown {
    name: String,
    role: String,
}

impl Room {
    /// Goes on with a practice whose files changed.
    pub(super) fn take_over(&mut self, practice: Practice) -> Result<(), DeskError> {
        self.words = Words::load(&practice)?;
        self.pages = Pages::load(&practice.assets, &self.words)?;
        self.practice = practice;
        Ok(())
    }

    pub(super) fn now(&self) -> NaiveDateTime {
        (self.clock)()
    }

    /// The wall clock of the practice.
    pub(super) fn local(&self, at: NaiveDateTime) -> NaiveDateTime {
        self.practice.profile.practice.time_zone.0.from_utc_datetime(&at).naive_local()
    }

    pub(super) fn today(&self) -> NaiveDate {
        self.local(self.now()).date()
    }

    /// What the day and the language of the desk lend to what is typed.
    pub(super) fn around(&self) -> Around<'_> {
        Around { today: self.today(), day: None, names: &self.words.names }
    }

    /// Who is signed in in a browser, as long as the register knows them as who they were then.
    pub(super) fn who(&mut self, cookie: &str) -> Result<Option<Who>, DeskError> {
        let Some(who) = self.gate.who(cookie) else { return Ok(None) };
        let is_there = |person: &Person| (person.name.as_str(), person.role) == (who.name.as_str(), who.role);
        if self.register.people()?.iter().any(is_there) {
            return Ok(Some(who));
        }
        self.gate.lock(cookie);
        Ok(None)
    }

    pub(super) fn act(&self, who: &Who, what: impl Into<String>) -> Act {
        Act { by: who.name.clone(), at: self.now(), what: what.into() }
    }

    pub(super) fn frame(&mut self, cookie: &str, who: Option<&Who>, here: &'static str) -> Result<Frame, DeskError> {
        let told = self.gate.browser(cookie).told.take();
        let shown = |who: &Who| {
            Ok(Shown { name: who.name.clone(), role: self.words.word(&format!("role.{}", role_word(who.role)))? })
        };
        let who = who.map(shown).transpose() as Result<_, DeskError>;
        let profile = &self.practice.profile.practice;
        Ok(Frame {
            practice: profile.name.clone(),
            banner: profile.banner.clone(),
            example: self.example.is_some(),
            language: self.words.locale.tag.clone(),
            right_to_left: self.words.locale.right_to_left,
            who: who?,
            token: token(cookie),
            now: self.words.moment(self.local(self.now()))?,
            clock: self.words.locale.time(self.local(self.now()).time())?,
            here,
            told,
            idle_seconds: self.idle_minutes * 60 + AFTER_IDLE,
        })
    }

    pub(super) fn page(&self, name: &str, shown: impl Serialize) -> Result<Answer, DeskError> {
        Ok(Answer::html(200, self.pages.render(name, shown)?))
    }

    pub(super) fn case(&self, id: CaseId) -> Result<Filed, DeskError> {
        Ok(self.register.case(id)?.ok_or(RegisterError::NoCase)?)
    }

    /// Judges a case beside all others that may be of the same patient.
    pub(super) fn judge(&self, id: CaseId, file: &CaseFile) -> Result<Judged, DeskError> {
        judge::judge(file, &self.practice, &self.beside(id, file)?)
    }

    /// Judges cases, each as [`Room::judge`] does.
    pub(super) fn judge_all(&self, cases: &[Filed]) -> Result<Vec<Judged>, DeskError> {
        let beside = cases.iter().map(|case| self.beside(case.id, &case.file)).collect::<Result<Vec<_>, _>>()?;
        let cases: Vec<_> = cases.iter().map(|case| &case.file).zip(beside).collect();
        judge::judge_all(&cases, &self.practice)
    }

    /// The record of a case that goes on, if nothing is missing and nothing wrong, with what is known beside it.
    pub(super) fn complete(&self, id: CaseId, file: &CaseFile) -> Result<Option<Checked<Record>>, DeskError> {
        let beside = self.beside(id, file)?;
        Ok(file.complete(&self.practice).map(|record| record.beside(beside)))
    }

    /// Other cases that may be of the same patient as a case.
    pub(super) fn others(&self, id: CaseId, file: &CaseFile) -> Result<Vec<Filed>, DeskError> {
        let text = |pointer: &str| file.text(pointer).unwrap_or_default();
        let mut found = self.register.of_patient(text("/patient/name"), text("/patient/record_number"))?;
        found.retain(|case| case.id != id);
        Ok(found)
    }

    fn beside(&self, id: CaseId, file: &CaseFile) -> Result<Beside, DeskError> {
        let others = self.others(id, file)?;
        let today = Beside { today: Some(self.today()), ..Beside::default() };
        Ok(today.and(others.iter().filter_map(|case| judge::other(&case.file))))
    }

    /// A page of nothing but a sentence, for whoever does not come in.
    pub(super) fn refused(&self, status: u16, why: &str) -> Answer {
        match self.words.word(why) {
            Ok(says) => self.plain(status, &says),
            Err(error) => self.plain(500, &error.to_string()),
        }
    }

    /// A page of nothing but these words.
    pub(super) fn plain(&self, status: u16, says: &str) -> Answer {
        let shown = serde_json::json!({ "language": self.words.locale.tag, "says": says });
        match self.pages.render("refused", shown) {
            Ok(page) => Answer::html(status, page),
            Err(_) => Answer::bytes(status, "text/plain; charset=utf-8", says.as_bytes().to_vec()),
        }
    }

    /// Tells something on the next page.
    pub(super) fn tell(&mut self, cookie: &str, says: String) {
        self.gate.browser(cookie).told = Some(says);
    }
}

/// The word of a role in the desk's words.
pub(super) fn role_word(role: KnownBy) -> &'static str {
    match role {
        KnownBy::Desk => "desk",
        KnownBy::Nurse => "nurse",
        KnownBy::Surgeon => "surgeon",
    }
}
