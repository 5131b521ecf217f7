//! Pages on paper, made on a thread of their own: to be issued, and to be looked at before.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Mutex, PoisonError};

use chrono::{NaiveDate, NaiveDateTime};

use crate::batch::issue::{self, Untimely};
use crate::batch::{Fault, Outcome, Printer, Refusal, Target, Watch};
use crate::document::reading;
use crate::facts::Moment;
use crate::packet::{Case, CaseError, Form, Output, Packet, both_eyes};
use crate::practice::Checked;
use crate::record::Record;
use crate::register::{CaseId, Version};
use crate::render::{self, RenderError, typeset};
use crate::review::coverage::{self, Coverage};
use crate::review::explain::{self, Explanation};

/// Most characters of a statement in a list.
const WORDS: usize = 60;

/// Lays pages out, one case after the other. What was looked at last is kept: a browser asks for it page by page.
#[derive(Debug, Default)]
pub(super) struct Press {
    last: Option<(CaseId, Version, Vec<String>)>,
}

/// A case of which pages are wanted.
#[derive(Debug, Clone)]
pub(super) struct Wanted {
    pub(super) case: CaseId,
    pub(super) record: Checked<Record>,
    pub(super) moment: Moment,
}

/// What is to be issued.
#[derive(Debug, Clone)]
pub(super) struct Order {
    pub(super) wanted: Wanted,
    /// Other cases that may be of the same patient.
    pub(super) others: Vec<Wanted>,
    pub(super) at: NaiveDateTime,
    pub(super) by: String,
    pub(super) cookie: String,
}

impl Order {
    /// The case that is wanted, then the others.
    pub(super) fn all(&self) -> impl Iterator<Item = &Wanted> {
        std::iter::once(&self.wanted).chain(&self.others)
    }
}

/// What is to be looked at.
#[derive(Debug, Clone)]
pub(super) struct Look {
    pub(super) wanted: Wanted,
    pub(super) version: Version,
    pub(super) today: NaiveDate,
}

/// The patient's pages before they are issued.
#[derive(Debug)]
pub(super) struct Proof {
    /// How many pages.
    pub(super) pages: usize,
    /// The same as text.
    pub(super) text: String,
    /// Why each statement stands there or does not.
    pub(super) explanation: Explanation,
    /// Where the words of each statement begin, by id.
    pub(super) words: BTreeMap<String, String>,
    /// What the law asks for, of a consent.
    pub(super) coverage: Option<Coverage>,
}

/// Why nothing is made.
#[derive(Debug, thiserror::Error)]
pub(super) enum NotMade {
    /// The time does not fit.
    #[error(transparent)]
    Untimely(#[from] Untimely),
    /// A stage of the case refuses.
    #[error(transparent)]
    Case(#[from] CaseError),
    /// Together with the other eye it cannot be made.
    #[error(transparent)]
    Together(Refusal),
    /// The layout refuses.
    #[error(transparent)]
    Layout(#[from] RenderError),
}

impl Press {
    /// Makes what was ordered: the packet of the case, and with it that of another eye of the patient if both share a
    /// calendar. What the cases of one patient say against each other withholds here what it withholds in a batch.
    pub(super) fn make(&self, order: &Order) -> Result<Vec<(CaseId, Packet)>, NotMade> {
        let Wanted { case, record, moment } = &order.wanted;
        issue::timely(record, *moment, order.at)?;
        let own = Case::new(record, *moment)?;
        let together = together(&own, &order.others);
        if together.is_empty() {
            return Ok(vec![(*case, own.packet(order.at)?)]);
        }
        let all: Vec<&Wanted> = std::iter::once(&order.wanted).chain(together).collect();
        let at = order.at;
        // That the time fits the case that is wanted was seen to; that of the other eye is another one's.
        let printer = Printer { forms: &[Form::Pdf], issued: &|_, _| at, issued_anyway: true };
        let read = |place: usize| Ok((all[place].record.clone(), all[place].moment));
        let taken = Taken::default();
        let mut outcomes = printer.print(all.len(), &read, &taken, Watch::nobody());
        if let Outcome::Refused(_, why) = outcomes.swap_remove(0) {
            return Err(NotMade::Together(why));
        }
        let taken = taken.0.into_inner().unwrap_or_else(PoisonError::into_inner);
        let with_own = taken.into_iter().find(|packets| packets.iter().any(|(place, _)| *place == 0));
        Ok(with_own.into_iter().flatten().map(|(place, packet)| (all[place].case, packet)).collect())
    }

    /// Lays the patient's pages out and says what stands on them.
    pub(super) fn proof(&mut self, look: &Look) -> Result<Proof, NotMade> {
        let wanted = &look.wanted;
        let case = Case::new(&wanted.record, wanted.moment)?;
        let document = case.unissued()?;
        typeset::forget();
        let explanation = explain::explain(&case)?;
        let coverage = match wanted.moment {
            Moment::Before => Some(coverage::coverage(&case, look.today)?),
            Moment::After => None,
        };
        let pages = self.pages(look, &case)?.len();
        let passages = reading::read(&document);
        let words = passages.iter().filter(|passage| !passage.id.is_empty()).rev();
        Ok(Proof {
            pages,
            text: render::text::text(&document),
            explanation,
            words: words.map(|passage| (passage.id.clone(), beginning(&passage.text))).collect(),
            coverage,
        })
    }

    /// One page as a picture, from 1.
    pub(super) fn page(&mut self, look: &Look, number: usize) -> Option<String> {
        let case = Case::new(&look.wanted.record, look.wanted.moment).ok()?;
        let pages = self.pages(look, &case).ok()?;
        pages.get(number.checked_sub(1)?).cloned()
    }

    fn pages(&mut self, look: &Look, case: &Case) -> Result<&[String], NotMade> {
        let is_last = |last: &(CaseId, Version, Vec<String>)| (last.0, last.1) == (look.wanted.case, look.version);
        if !self.last.as_ref().is_some_and(is_last) {
            let pages = look.wanted.record.with().typesetter().svg(&case.unissued()?)?;
            self.last = Some((look.wanted.case, look.version, pages));
        }
        Ok(self.last.as_ref().map_or(&[], |(_, _, pages)| pages))
    }
}

/// The other cases that share a calendar with one, or contradict it.
fn together<'o>(own: &Case, others: &'o [Wanted]) -> Vec<&'o Wanted> {
    let cases = others.iter().filter_map(|other| Some((other, Case::new(&other.record, other.moment).ok()?)));
    let (others, cases): (Vec<&Wanted>, Vec<Case>) = cases.unzip();
    let all: Vec<&Case> = std::iter::once(own).chain(&cases).collect();
    let found = both_eyes::find(&all);
    let met = found.pairs.iter().chain(found.stops.iter().map(|stop| &stop.cases)).filter(|pair| pair.contains(&0));
    let places: BTreeSet<usize> = met.flatten().filter_map(|place| place.checked_sub(1)).collect();
    places.into_iter().map(|place| others[place]).collect()
}

/// Packets as they are handed over, those that belong together at once.
#[derive(Default)]
struct Taken(Mutex<Vec<Vec<(usize, Packet)>>>);

impl Target for Taken {
    fn choose(&self, _: &mut Vec<Output>) {}

    fn take(&self, packets: &[(usize, Packet)]) -> Result<(), Fault> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).push(packets.to_vec());
        Ok(())
    }
}

/// The first words of a text.
fn beginning(text: &str) -> String {
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    match text.char_indices().nth(WORDS) {
        Some((end, _)) => format!("{}…", text[..end].trim_end()),
        None => text,
    }
}
