//! Pages on paper, made on a thread of their own: to be issued, and to be looked at before.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, PoisonError};

use chrono::{NaiveDate, NaiveDateTime};

use super::areas;
use crate::batch::issue::{self, Untimely};
use crate::batch::{Fault, Outcome, Printer, Refusal, Target, Watch};
use crate::document::changes::Change;
use crate::document::{Page, reading};
use crate::facts::Moment;
use crate::packet::both_eyes::{self, Found};
use crate::packet::{Case, CaseError, Form, Output, Packet, suitability};
use crate::practice::{Checked, Draft};
use crate::record::Record;
use crate::register::{CaseId, Version};
use crate::render::typeset::{self, Picture};
use crate::render::{self, RenderError};
use crate::review::compare;
use crate::review::coverage::{self, Coverage};
use crate::review::explain::{self, Explanation};

/// Most characters of a statement in a list.
const WORDS: usize = 60;

/// Lays pages out, one case after the other. What was looked at last is kept: a browser asks for it page by page.
#[derive(Debug, Default)]
pub(super) struct Press {
    last: Option<(Seen, Arc<Proof>)>,
}

/// What was looked at: a case as it stood, by the clinical values as they stood.
type Seen = (CaseId, Version, String);

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
    /// The papers that are issued along with the packet.
    pub(super) papers: Vec<Page>,
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
    /// The case before the last change, if its pages can be compared.
    pub(super) before: Option<Checked<Record>>,
    pub(super) today: NaiveDate,
    /// The word that stands across pages that are withheld.
    pub(super) stamp: Option<String>,
}

impl Look {
    fn seen(&self) -> Seen {
        (self.wanted.case, self.version, self.wanted.record.with().clinical_hash().to_owned())
    }
}

/// Which page is wanted as a picture.
#[derive(Debug, Clone, Copy)]
pub(super) enum Which {
    /// Its number, from 1.
    Number(usize),
    /// The first that the last change altered, with a mark beside what it altered; else the first.
    Altered,
}

/// The patient's pages before they are issued.
#[derive(Debug)]
pub(super) struct Proof {
    /// Each page as it will print.
    pub(super) pages: Vec<Picture>,
    /// The same as HTML, and its language.
    pub(super) twin: String,
    pub(super) language: String,
    pub(super) right_to_left: bool,
    /// What the last change altered.
    pub(super) changes: Vec<Change>,
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
            let papers = own.papers_as(&[Form::Pdf]).into_iter().filter(|paper| asked(&order.papers, *paper));
            let outputs: Vec<Output> = own.outputs(&[Form::Pdf])?.into_iter().chain(papers).collect();
            return Ok(vec![(*case, own.packet_of(&[Form::Pdf], &outputs, order.at)?)]);
        }
        let all: Vec<&Wanted> = std::iter::once(&order.wanted).chain(together).collect();
        let at = order.at;
        // That the time fits the case that is wanted was seen to; that of the other eye is another one's.
        let printer = Printer { forms: &[Form::Pdf], issued: &|_, _| at, issued_anyway: true };
        let read = |place: usize| Ok((all[place].record.clone(), all[place].moment));
        let taken = Taken { papers: &order.papers, packets: Mutex::default() };
        let mut outcomes = printer.print(all.len(), &read, &taken, Watch::nobody());
        if let Outcome::Refused(_, why) = outcomes.swap_remove(0) {
            return Err(NotMade::Together(why));
        }
        let taken = taken.packets.into_inner().unwrap_or_else(PoisonError::into_inner);
        let with_own = taken.into_iter().find(|packets| packets.iter().any(|(place, _)| *place == 0));
        Ok(with_own.into_iter().flatten().map(|(place, packet)| (all[place].case, packet)).collect())
    }

    /// Lays the patient's pages out and says what stands on them.
    pub(super) fn proof(&mut self, look: &Look) -> Result<Arc<Proof>, NotMade> {
        let seen = look.seen();
        match &self.last {
            Some((last, proof)) if *last == seen => Ok(Arc::clone(proof)),
            _ => {
                let proof = Arc::new(Self::lay_out(look)?);
                self.last = Some((seen, Arc::clone(&proof)));
                Ok(proof)
            }
        }
    }

    fn lay_out(look: &Look) -> Result<Proof, NotMade> {
        let wanted = &look.wanted;
        let case = Case::new(&wanted.record, wanted.moment)?;
        let document = case.unissued()?;
        typeset::forget();
        let explanation = explain::explain(&case)?;
        let coverage = match wanted.moment {
            Moment::Before => Some(coverage::coverage(&case, look.today)?),
            Moment::After => None,
        };
        let typesetter = wanted.record.with().typesetter();
        let (document, pages) = match (typesetter.preview(&document), case.in_lines(&document)?) {
            (Err(_), Some(lined)) => (lined.clone(), typesetter.preview(&lined)?),
            (pages, _) => (document, pages?),
        };
        let passages = reading::read(&document);
        let words = passages.iter().filter(|passage| !passage.id.is_empty()).rev();
        Ok(Proof {
            pages,
            twin: render::html::content(&document),
            language: document.language.clone(),
            right_to_left: document.right_to_left,
            changes: changes(look, &case),
            explanation,
            words: words.map(|passage| (passage.id.clone(), beginning(&passage.text))).collect(),
            coverage,
        })
    }

    /// The suitability sheet of a case as far as it goes: the name of its file, and the file.
    pub(super) fn suitability(draft: &Draft, at: NaiveDateTime) -> Result<(String, Vec<u8>), NotMade> {
        typeset::forget();
        Ok(suitability::file(draft, Form::Pdf, at)?)
    }

    /// One page as a picture.
    pub(super) fn page(&mut self, look: &Look, which: Which) -> Option<String> {
        let proof = self.proof(look).ok()?;
        let number = match which {
            Which::Number(number) => number,
            Which::Altered => areas::first_altered(&proof.pages, &proof.changes),
        };
        let picture = proof.pages.get(number.checked_sub(1)?)?;
        let svg = match which {
            Which::Number(_) => picture.svg.clone(),
            Which::Altered => areas::marked(&proof.pages, &proof.changes)?,
        };
        match &look.stamp {
            Some(word) => areas::stamped(&svg, picture.size, word),
            None => Some(svg),
        }
    }
}

/// What the patient reads differently since the last change. A page that could not be read before has no differences.
fn changes(look: &Look, case: &Case) -> Vec<Change> {
    let before = look.before.as_ref().and_then(|record| Case::new(record, look.wanted.moment).ok());
    let read = before.and_then(|before| compare::read(&before).ok()).zip(compare::read(case).ok());
    read.map(|(old, new)| compare::compare(&old, &new).changes).unwrap_or_default()
}

/// The other cases that share a calendar with one, or contradict it.
fn together<'o>(own: &Case, others: &'o [Wanted]) -> Vec<&'o Wanted> {
    let (others, found) = met(own, others);
    let met = found.pairs.iter().chain(found.stops.iter().map(|stop| &stop.cases)).filter(|pair| pair.contains(&0));
    let places: BTreeSet<usize> = met.flatten().filter_map(|place| place.checked_sub(1)).collect();
    places.into_iter().map(|place| others[place]).collect()
}

/// The case that shares a calendar with one, and is issued with it.
pub(super) fn joined(own: &Case, others: &[Wanted]) -> Option<CaseId> {
    let (others, found) = met(own, others);
    let pair = found.pairs.iter().find(|pair| pair.contains(&0))?;
    let place = pair.iter().find_map(|place| place.checked_sub(1))?;
    Some(others[place].case)
}

/// What is found between a case, which stands first, and those of the others that can be made.
fn met<'o>(own: &Case, others: &'o [Wanted]) -> (Vec<&'o Wanted>, Found) {
    let cases = others.iter().filter_map(|other| Some((other, Case::new(&other.record, other.moment).ok()?)));
    let (others, cases): (Vec<&Wanted>, Vec<Case>) = cases.unzip();
    let all: Vec<&Case> = std::iter::once(own).chain(&cases).collect();
    (others, both_eyes::find(&all))
}

/// Packets as they are handed over, those that belong together at once.
struct Taken<'o> {
    papers: &'o [Page],
    packets: Mutex<Vec<Vec<(usize, Packet)>>>,
}

/// Whether a page belongs to the packet or is one of the papers that were asked for.
fn asked(papers: &[Page], output: Output) -> bool {
    !output.is_paper() || matches!(output, Output::Page(page, _) if papers.contains(&page))
}

impl Target for Taken<'_> {
    fn choose(&self, outputs: &mut Vec<Output>) {
        outputs.retain(|output| asked(self.papers, *output));
    }

    fn take(&self, packets: &[(usize, Packet)]) -> Result<(), Fault> {
        self.packets.lock().unwrap_or_else(PoisonError::into_inner).push(packets.to_vec());
        Ok(())
    }
}

/// The first words of a text: its title, if it has one.
fn beginning(text: &str) -> String {
    let text = text.trim().lines().next().unwrap_or_default();
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    match text.char_indices().nth(WORDS) {
        Some((end, _)) => format!("{}…", text[..end].trim_end()),
        None => text,
    }
}
