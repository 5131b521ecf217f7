//! Pages on paper, made on a thread of their own: to be issued, and to be looked at before.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime};

use crate::batch::issue::{self, Untimely};
use crate::document::reading;
use crate::facts::Moment;
use crate::packet::{Case, CaseError, Packet};
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

/// What is to be issued.
#[derive(Debug, Clone)]
pub(super) struct Order {
    pub(super) case: CaseId,
    pub(super) record: Checked<Record>,
    pub(super) moment: Moment,
    pub(super) at: NaiveDateTime,
    pub(super) by: String,
    pub(super) cookie: String,
}

/// What is to be looked at.
#[derive(Debug, Clone)]
pub(super) struct Wanted {
    pub(super) case: CaseId,
    pub(super) version: Version,
    pub(super) record: Checked<Record>,
    pub(super) moment: Moment,
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
    /// The layout refuses.
    #[error(transparent)]
    Layout(#[from] RenderError),
}

impl Press {
    /// Makes what was ordered.
    pub(super) fn make(&self, order: &Order) -> Result<Packet, NotMade> {
        issue::timely(&order.record, order.moment, order.at)?;
        Ok(Case::new(&order.record, order.moment)?.packet(order.at)?)
    }

    /// Lays the patient's pages out and says what stands on them.
    pub(super) fn proof(&mut self, wanted: &Wanted) -> Result<Proof, NotMade> {
        let case = Case::new(&wanted.record, wanted.moment)?;
        let document = case.unissued()?;
        typeset::forget();
        let explanation = explain::explain(&case)?;
        let coverage = match wanted.moment {
            Moment::Before => Some(coverage::coverage(&case, wanted.today)?),
            Moment::After => None,
        };
        let pages = self.pages(wanted, &case)?.len();
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
    pub(super) fn page(&mut self, wanted: &Wanted, number: usize) -> Option<String> {
        let case = Case::new(&wanted.record, wanted.moment).ok()?;
        let pages = self.pages(wanted, &case).ok()?;
        pages.get(number.checked_sub(1)?).cloned()
    }

    fn pages(&mut self, wanted: &Wanted, case: &Case) -> Result<&[String], NotMade> {
        let is_last = |last: &(CaseId, Version, Vec<String>)| (last.0, last.1) == (wanted.case, wanted.version);
        if !self.last.as_ref().is_some_and(is_last) {
            let pages = wanted.record.with().typesetter().svg(&case.unissued()?)?;
            self.last = Some((wanted.case, wanted.version, pages));
        }
        Ok(self.last.as_ref().map_or(&[], |(_, _, pages)| pages))
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
