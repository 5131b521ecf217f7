//! What `fhir` takes.

use std::path::PathBuf;

use chrono::NaiveDateTime;
use clap::{Args, Subcommand, ValueEnum};

use super::{Format, MomentArg};
use crate::record::eye::Side;

/// What `fhir` does.
#[derive(Debug, Subcommand)]
pub enum Fhir {
    /// Make a draft of a case record from files of one patient.
    ///
    /// JSON: a Bundle, or single resources. Read are Patient, Condition, Observation, Procedure, AllergyIntolerance,
    /// MedicationStatement, MedicationRequest, Appointment and Practitioner. The draft is TOML; above it stand the origin of each
    /// value, what a person must be asked, and what was not taken and why. `vitreoleaf import` takes the draft into the register.
    /// What the files do not say is left out, which means unknown; nothing becomes "no" because it is not there.
    In(FhirIn),
    /// Write what another system needs of a case as one transaction Bundle.
    ///
    /// DocumentReference of each file that `print` issues with the same options (by kind, name, size and hash, without the file), Consent, Procedure, a
    /// MedicationRequest for each drug with one Dosage for each stretch of the calendar, Appointment and CarePlan for the visits,
    /// Provenance. Ids stay: sent again, each resource takes the place of the one before. What is withheld is not in it. Exit code
    /// 1 while something is withheld.
    Out(FhirOut),
}

/// Arguments of `fhir out`.
#[derive(Debug, Args)]
pub struct FhirOut {
    /// Case record, TOML or JSON; `-` reads standard input.
    #[arg(value_name = "CASE")]
    pub case: PathBuf,
    /// Folder of the practice, with profile.toml.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE")]
    pub practice: PathBuf,
    /// Before or after the treatment; left out: after if the record holds the treatment, else before.
    #[arg(short, long, value_enum)]
    pub moment: Option<MomentArg>,
    /// Also the papers around the treatment that the record calls for, as `print --papers` makes them, and before the treatment the
    /// suitability sheet.
    #[arg(long)]
    pub papers: bool,
    /// Name the files that were issued into this register, a file or postgres://user@host/database, at the record's revision, instead
    /// of those that `print` would make: papers of the desk too.
    #[cfg(feature = "desk")]
    #[arg(long, value_name = "REGISTER", conflicts_with_all = ["papers", "issued"])]
    pub register: Option<PathBuf>,
    /// Date and time of issue, UTC, as `print` takes it: the same value gives the same files and hashes; left out: now.
    #[arg(long, value_parser = super::issued, value_name = "TIME")]
    pub issued: Option<NaiveDateTime>,
}

/// Arguments of `fhir in`.
#[derive(Debug, Args)]
pub struct FhirIn {
    /// Files of one patient.
    #[arg(required = true, value_name = "FILE")]
    pub files: Vec<PathBuf>,
    /// Folder of the practice: its languages, surgeons, clock and own tables count.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE")]
    pub practice: Option<PathBuf>,
    /// The eye that is treated; left out: whatever is said of an eye is asked about.
    #[arg(long, value_enum)]
    pub side: Option<SideArg>,
    /// File for the draft, which must not be there yet; left out: standard output.
    #[arg(short, long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// A draft to go on with, or all that was found as data.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Which eye.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SideArg {
    /// The right eye.
    Right,
    /// The left eye.
    Left,
}

impl SideArg {
    /// What the record calls it.
    #[must_use]
    pub fn side(self) -> Side {
        match self {
            Self::Right => Side::Right,
            Self::Left => Side::Left,
        }
    }
}
