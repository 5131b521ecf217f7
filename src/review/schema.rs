//! The JSON Schema of each file the program reads and of each output it writes.

use schemars::generate::SchemaSettings;
use schemars::{JsonSchema, Schema, schema_for};

use super::audit::Audit;
use super::blocks::PageSets;
use super::check::Checked;
use super::compare::Comparison;
use super::coverage::Coverage;
use super::due::DueVisits;
use super::explain::Explanation;
use super::facts::{CaseFacts, Vocabulary};
use super::plain::Plainness;
use super::plan::DatedPlan;
use super::practice::{PracticeReview, ToConfirm};
use super::proofread::Proofreading;
use super::translations::Translations;
use super::verify::Verification;
use crate::batch::report::BatchReport;
use crate::exchange::fhir::incoming::Incoming;
use crate::exchange::fhir::outgoing::Bundle;
use crate::packet::json::PacketData;
use crate::record::Record;
use crate::record::form::Description;
use crate::record::profile::Profile;

/// Something with a schema.
#[derive(Debug, Clone, Copy)]
pub struct Described {
    /// Its name on the command line.
    pub name: &'static str,
    /// What it is, in a few words.
    pub what: &'static str,
    /// Makes the schema.
    pub schema: fn() -> Schema,
}

/// What has a schema: the two files a clinic writes, then the outputs, each as its command writes it.
///
/// ```
/// use vitreoleaf::review::schema::{ALL, of};
///
/// assert_eq!(ALL[0].name, "record");
/// assert!(of("plan").is_some() && of("weather").is_none());
/// ```
pub static ALL: [Described; 23] = [
    described("record", "the case record", || schema_for!(Record)),
    described("profile", "the practice profile", || schema_for!(Profile)),
    described("form", "what `new` writes as data: every key of a case record", written::<Description>),
    described("packet", "packet.json of each packet", written::<PacketData>),
    described("print", "what `print` writes: what became of the cases", written::<BatchReport>),
    described("check", "what `check` writes: a list, one entry a case", written::<Vec<Checked>>),
    described("plan", "what `plan` writes: a list, one entry a case", written::<Vec<DatedPlan>>),
    described("explain", "what `explain` writes: a list, one entry a case", written::<Vec<Explanation>>),
    described("coverage", "what `coverage` writes: a list, one entry a case", written::<Vec<Coverage>>),
    described("plain", "what `plain` writes: a list, one entry a case", written::<Vec<Plainness>>),
    described("audit", "what `audit` writes: a list, one entry a case", written::<Vec<Audit>>),
    described("blocks", "what `blocks` writes: a list, one entry a case", written::<Vec<PageSets>>),
    described("compare", "what `compare` writes", written::<Comparison>),
    described("facts", "what `facts` writes without a case: the vocabulary", written::<Vocabulary>),
    described("case-facts", "what `facts` writes of a case", written::<CaseFacts>),
    described("practice", "what `practice` writes", written::<PracticeReview>),
    described("confirm", "what `confirm` writes", written::<ToConfirm>),
    described("proofread", "what `proofread` writes", written::<Proofreading>),
    described("translations", "what `translations` writes", written::<Translations>),
    described("outcomes", "what `outcomes list` writes", written::<DueVisits>),
    described("fhir-in", "what `fhir in` writes", written::<Incoming>),
    described("fhir-out", "what `fhir out` writes: a Bundle of FHIR R4", written::<Bundle>),
    described("verify", "what `verify` writes", written::<Verification>),
];

const fn described(name: &'static str, what: &'static str, schema: fn() -> Schema) -> Described {
    Described { name, what, schema }
}

/// The one of a name.
#[must_use]
pub fn of(name: &str) -> Option<&'static Described> {
    ALL.iter().find(|described| described.name == name)
}

/// The schema of what is written, not of what would be read.
fn written<T: JsonSchema>() -> Schema {
    SchemaSettings::draft2020_12().for_serialize().into_generator().into_root_schema_for::<T>()
}
