//! The drop calendar of two treated eyes of one patient: each date once, the eye in each head.

use super::sheet::{Built, Sheet};
use super::{Block, Document, Eyes, Page, calendar, drops};
use crate::plan::Dose;

/// The two cases of one patient, the one treated first in front.
#[derive(Debug, Clone, Copy)]
pub struct BothEyes<'a> {
    /// Treated first.
    pub first: Sheet<'a>,
    /// Treated later; its day begins the calendar.
    pub second: Sheet<'a>,
    /// Id of the calendar.
    pub id: &'a str,
}

impl BothEyes<'_> {
    /// Both cases.
    #[must_use]
    pub fn sheets(&self) -> [&Sheet<'_>; 2] {
        [&self.first, &self.second]
    }

    /// Whether a dose stands here: from the session of the second eye on. What was due before it stands in the first
    /// eye's own calendar, which this one replaces.
    #[must_use]
    pub fn holds(&self, dose: &Dose) -> bool {
        let second = &self.second.plan.anchors;
        dose.at >= second.starts || dose.at.date() > second.treatment
    }
}

/// Builds the calendar of both eyes.
///
/// # Errors
/// A text that is missing.
pub fn build(both: &BothEyes) -> Built<Document> {
    let sheet = &both.second;
    let from = sheet.content.locale.full_date(sheet.plan.anchors.treatment);
    let mut blocks = vec![
        sheet.paragraph("both_eyes.throw_away", &[("from", &from)])?,
        Block::Pairs { items: sheet.phone_pairs()? },
    ];
    for one in both.sheets() {
        blocks.extend(calendar::in_use(one)?);
        blocks.extend(drops::when_needed(one, |_| true)?);
    }
    blocks.extend(calendar::boxes(&both.sheets(), "both_eyes.how", |dose| both.holds(dose))?.map(Block::Calendar));
    let mut document = sheet.document(Page::BothEyes, sheet.text("both_eyes.title", &[])?, blocks)?;
    document.header.eye = sheet.text("both_eyes.eyes", &[])?;
    document.header.eyes = Eyes::Both;
    document.id = both.id.to_owned();
    document.seal = Some(sheet.seal(both.id)?);
    document.footer.document = sheet.footer_of(both.id, sheet.record.case.revision)?;
    Ok(document)
}
