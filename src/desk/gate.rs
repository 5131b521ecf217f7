//! Who comes in: a browser that had the one-time key, and in it a person with a passphrase.

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use super::answer::Ask;
use super::came::Came;
use super::drafts::Drafts;
use super::error::DeskError;
use super::form::save::Fields;
use super::memory::Memory;
use crate::record::form::KnownBy;
use crate::record::hash::hexadecimal;
use crate::register::sha256;

/// Most browsers that are remembered; the oldest falls out.
const MOST: usize = 8;

/// Most pages of a browser of which is remembered what they sent.
const PAGES: usize = 16;

/// Wrong passphrases after which somebody waits, and how long. Common practice, no source.
const TRIES: u32 = 5;
const PAUSE: Duration = Duration::from_secs(30);

/// Somebody who has signed in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Who {
    pub(super) name: String,
    pub(super) role: KnownBy,
}

/// One browser.
#[derive(Debug, Default)]
pub(super) struct Browser {
    who: Option<(Who, Instant)>,
    /// Why nobody is signed in.
    pub(super) locked_by_idleness: bool,
    /// What came while the desk was locked: it is taken in once somebody signs in.
    pub(super) waiting: Option<Ask>,
    /// Where to go once somebody signs in.
    pub(super) onward: Option<String>,
    /// What was searched for last; it may be a patient's name, so that no address holds it.
    pub(super) sought: Option<String>,
    /// What is written and not signed or sent yet.
    pub(super) drafts: Drafts,
    /// One sentence for the next page.
    pub(super) told: Option<String>,
    /// What came from another system and was not discarded.
    pub(super) came: Option<Came>,
    /// What each page sent last, by its own mark, the newest last.
    sent: Vec<(String, Fields)>,
}

impl Browser {
    /// What a page sent before, and what it sends now instead.
    pub(super) fn sends(&mut self, page: &str, fields: &Fields) -> Option<Fields> {
        let before = self.sent.iter().position(|(one, _)| one == page).map(|at| self.sent.remove(at).1);
        self.sent.push((page.to_owned(), fields.clone()));
        self.sent.drain(..self.sent.len().saturating_sub(PAGES));
        before
    }
}

/// The gate.
#[derive(Debug)]
pub(super) struct Gate {
    /// Hash of the key that lets one browser in.
    key: Option<String>,
    /// Who was let in, also before this start.
    memory: Memory,
    browsers: BTreeMap<String, Browser>,
    wrong: BTreeMap<String, (u32, Instant)>,
    idle: Duration,
}

impl Gate {
    /// A gate with a new key, which is given out once.
    pub(super) fn new(memory: Memory, idle: Duration) -> Result<(Self, String), DeskError> {
        let key = random()?;
        let gate =
            Self { key: Some(sha256(key.as_bytes())), memory, browsers: BTreeMap::new(), wrong: BTreeMap::new(), idle };
        Ok((gate, key))
    }

    /// Lets a browser in that has the key, once: its cookie.
    pub(super) fn enter(&mut self, key: &str) -> Result<Option<String>, DeskError> {
        let hash = sha256(key.as_bytes());
        if !self.key.as_deref().is_some_and(|kept| same(kept, &hash)) {
            return Ok(None);
        }
        let cookie = random()?;
        self.key = None;
        self.memory.keep_browser(sha256(cookie.as_bytes()), MOST)?;
        Ok(Some(cookie))
    }

    /// Whether a browser was let in.
    pub(super) fn knows(&self, cookie: Option<&str>) -> bool {
        let hash = cookie.map(|cookie| sha256(cookie.as_bytes()));
        hash.is_some_and(|hash| self.memory.browsers().iter().any(|known| same(known, &hash)))
    }

    pub(super) fn browser(&mut self, cookie: &str) -> &mut Browser {
        self.browsers.entry(sha256(cookie.as_bytes())).or_default()
    }

    /// Who is signed in in a browser; nobody once the desk was idle for too long. Asking is a sign of life.
    pub(super) fn who(&mut self, cookie: &str) -> Option<Who> {
        let idle = self.idle;
        let browser = self.browser(cookie);
        let (who, last) = browser.who.take()?;
        if last.elapsed() >= idle {
            browser.locked_by_idleness = true;
            return None;
        }
        browser.who = Some((who.clone(), Instant::now()));
        Some(who)
    }

    /// Whether somebody is signed in in a browser. Asking is no sign of life.
    pub(super) fn is_open(&self, cookie: &str) -> bool {
        let browser = self.browsers.get(&sha256(cookie.as_bytes()));
        browser.and_then(|browser| browser.who.as_ref()).is_some_and(|(_, last)| last.elapsed() < self.idle)
    }

    pub(super) fn sign_in(&mut self, cookie: &str, who: Who) {
        self.wrong.remove(&who.name);
        let browser = self.browser(cookie);
        browser.locked_by_idleness = false;
        browser.who = Some((who, Instant::now()));
    }

    pub(super) fn lock(&mut self, cookie: &str) {
        self.browser(cookie).who = None;
    }

    /// How long somebody must wait before a passphrase is looked at again.
    pub(super) fn pause(&self, name: &str) -> Option<Duration> {
        let (count, last) = self.wrong.get(name)?;
        PAUSE.checked_sub(last.elapsed()).filter(|left| *count >= TRIES && !left.is_zero())
    }

    pub(super) fn wrong(&mut self, name: &str) {
        let (count, last) = self.wrong.entry(name.to_owned()).or_insert((0, Instant::now()));
        *count += 1;
        *last = Instant::now();
    }
}

/// What every change must bring along: only pages of this desk in this browser know it. It outlives a restart, so that
/// nothing typed is lost.
pub(super) fn token(cookie: &str) -> String {
    sha256(format!("change {cookie}").as_bytes())
}

/// Whether two texts are the same, in a time that does not tell where they differ.
pub(super) fn same(one: &str, other: &str) -> bool {
    one.len() == other.len() && one.bytes().zip(other.bytes()).fold(0, |differ, (a, b)| differ | (a ^ b)) == 0
}

/// 256 random bits, hexadecimal.
fn random() -> Result<String, DeskError> {
    let mut bytes = [0_u8; 32];
    getrandom::fill(&mut bytes).map_err(|_| DeskError::NoRandom)?;
    Ok(hexadecimal(&bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_text_is_told_from_every_other() {
        assert!(same("abc", "abc") && same("", ""));
        for other in ["abd", "ab", "abcd", ""] {
            assert!(!same("abc", other), "{other}");
        }
    }
}
