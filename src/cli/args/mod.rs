//! The command line: what it takes and how it explains itself.

mod fhir;
#[cfg(feature = "desk")]
mod register;

use std::path::PathBuf;

use chrono::NaiveDateTime;
use clap::builder::{PossibleValue, PossibleValuesParser};
use clap::{Args, Parser, Subcommand, ValueEnum};

use crate::document::Page;
use crate::facts::Moment;
use crate::packet::{Form, Output};
use crate::review::schema::{self, Described};

pub use fhir::{Fhir, FhirIn, FhirOut, SideArg};
#[cfg(feature = "desk")]
pub use register::{
    Backup, Desk, Erase, Export, ExportOutcomes, Import, ImportOutcomes, Keeping, ListOutcomes, MakeKey, Outcomes,
    People, Register, Restore, Role, RoleArg, Store, Verify, VerifyFile,
};

/// Pages around the laser treatment of vitreous floaters, made from one case record.
///
/// A case record says what the clinic knows of one eye; the practice profile says who the clinic is and which clinical
/// values a clinician has confirmed. From both, this program prints the consent packet, the aftercare packet with a
/// dated drop calendar, the surgeon sheet, the desk sheet and a calendar file. It works without a network.
///
/// It is an aid for licensed clinicians and replaces neither their judgement nor local rules.
#[derive(Debug, Parser)]
#[command(name = "vitreoleaf", version, after_long_help = EXIT)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// Show the lines of a refused record as they are written; else who the patient is and every free text are masked.
    #[arg(long, global = true)]
    pub show_values: bool,
}

const EXIT: &str = "\
Exit codes:
  0  everything was made
  1  pages for the patient were withheld; the surgeon sheet and the desk sheet say why
     (coverage, plain, audit, verify: something is lacking or does not pass)
  2  refused: a record, the profile, the command line or a file is wrong; nothing was written of a case that was refused

Begin with `vitreoleaf demo`, then read demo/ring-implant/case.toml beside its pages.";

/// What the program can do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Make the pages of one or more cases.
    ///
    /// Before the treatment: consent packet, surgeon sheet, desk sheet. After it (the record holds the treatment as done): aftercare
    /// packet with the drop calendar, calendar file, surgeon sheet, desk sheet. Files are named by case code, revision and
    /// moment, never by a person. Two cases with one record number, a right and a left eye with drops at the same time, get one
    /// calendar for both eyes. The files of a case are replaced together or not at all. A case that is refused costs none of the
    /// others. Pages of another patient or eye, or of a record that was changed at the same revision, are never replaced.
    Print(Print),
    /// Check case records, complete or half filled in, without writing pages.
    ///
    /// What was found, what may yet come of what is missing, and what is open for desk, nurse and surgeon, each with table and
    /// key. Exit code 2 while nothing could be printed. Of other records (both eyes on one day, one record number for two people)
    /// a check knows only those that it is given together.
    Check(Check),
    /// Check a practice profile and everything behind it.
    Practice(PracticeArgs),
    /// List the facts texts and conditions may use, or their values for a case.
    Facts(Facts),
    /// Show the dated doses, visits and the pressure recheck of a case.
    Plan(Plan),
    /// Print the page sets of a case as data before layout: headings, paragraphs, tables, calendar.
    Blocks(Blocks),
    /// Say for every statement why this patient reads it or does not, and where it stands.
    ///
    /// Condition, the values it saw, what was done by hand, page and block, evidence, and the entry behind each number.
    Explain(Explain),
    /// Say what the patient would now read differently, between two records or two versions of a practice.
    Compare(Compare),
    /// List what a consent must hold where the practice works, element by element with the page.
    Coverage(Coverage),
    /// Proofread the catalogue of a practice: statements, conditions, evidence and texts.
    Proofread(PracticeArgs),
    /// Measure how plain the patient's page is: every statement and the whole page, by the formulas of its language.
    ///
    /// Words, sentences and syllables with the scores made of them; names, drug names and sources are left out. Exit code 1
    /// when a gate of templates/readability.toml is not reached or a sentence is too long.
    Plain(Plain),
    /// Audit the patient's page against PEMAT-P and the Clear Communication Index, item by item.
    ///
    /// Each item is passed by the program, failed, or for a human. Exit code 1 when an item fails.
    Audit(Audit),
    /// List the texts of each language that are missing, stale or not reviewed.
    ///
    /// Pages that hold one of them are drafts. Who translated and who reviewed is written down in translation.toml of the
    /// language's folder; with --entries this prints what to add there.
    Translations(Translations),
    /// Print the hash a clinician confirms in the profile, and what it covers.
    Confirm(PracticeArgs),
    /// Write a case record to fill in, with what each key is for, in sections by who knows it.
    ///
    /// With a practice, its surgeons, regimens, visits and drugs stand beside the keys that name them. What is left out stays
    /// unknown.
    New(New),
    /// Read and write what other systems exchange in the form of HL7 FHIR R4.
    #[command(subcommand)]
    Fhir(Fhir),
    /// Write the invented example practice, its cases and all their pages into a folder.
    Demo(Demo),
    /// Open the desk: the practice's cases in the browser, on this machine only.
    ///
    /// Prints the address, which lets one browser in, and opens it. Cases, people and what was issued stand in one file beside the
    /// practice, made at first use. Without a practice the desk of an invented one opens, on an invented day; nothing of it is
    /// kept. Ctrl-C ends it; what was typed is saved.
    #[cfg(feature = "desk")]
    Desk(Desk),
    /// Say who works with the desk, or set somebody's role and passphrase.
    #[cfg(feature = "desk")]
    People(People),
    /// Take case records into the register of the desk.
    ///
    /// Answers and changes of statements arrive unsigned: a surgeon must sign them again.
    #[cfg(feature = "desk")]
    Import(Import),
    /// Take in, write out and list what became of the eyes.
    #[cfg(feature = "desk")]
    #[command(subcommand)]
    Outcomes(Outcomes),
    /// Write the cases of the register as case records, one JSON file each.
    #[cfg(feature = "desk")]
    Export(Export),
    /// Look after the register as a whole: see that nothing in it was changed, and erase what the law wants erased.
    ///
    /// What was issued, answered and signed stands in a ledger, each row bound to the one before it. Its head is an anchor:
    /// whoever keeps it elsewhere can show later that nothing before it was changed.
    #[cfg(feature = "desk")]
    Register {
        /// What to do.
        #[command(subcommand)]
        command: Keeping,
    },
    /// Tell whether a file is what a register issued: whole, with something appended, changed, or unknown to it.
    ///
    /// Which version it is, whether a newer one replaced it and what a patient reads otherwise in that. A signature that was
    /// appended to a PDF is no change. A patient's PDF carries what its pages were made from, and a code on its first page names
    /// that by a hash: 160 bits of SHA-256. Exit code 1 when it is not as it was issued, or not the newest.
    #[cfg(feature = "desk")]
    Verify(VerifyFile),
    /// Print the JSON Schema of a case record, a practice profile or an output: for editors that complete and check, and for
    /// programs that read.
    ///
    /// Outputs are what commands write with --format json, and packet.json. Each carries the version of its format: it is
    /// raised when a key goes away or means something else; keys may be added at any time.
    Schema(Schema),
    /// Print shell completions.
    Completions {
        /// Shell to complete for.
        shell: clap_complete::Shell,
    },
    /// Lay out one page set with the layout files of a practice's own; the program starts this itself.
    #[command(hide = true)]
    LayOutApart,
    /// Write what a package of the program needs beside it into a folder: manual pages, completions, desktop entry, icon.
    #[command(hide = true)]
    Manual {
        /// The folder, made if it is missing.
        folder: PathBuf,
    },
    /// Print the manual page of the program or of one command.
    Man {
        /// Command; left out: the program.
        command: Option<String>,
    },
}

/// Which case, which practice.
#[derive(Debug, Args)]
pub struct Case {
    /// Case records, TOML or JSON; `-` reads one from standard input.
    #[arg(required = true, value_name = "CASE")]
    pub cases: Vec<PathBuf>,
    /// Folder of the practice, with profile.toml and, if it has its own, templates/ and locales/.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE")]
    pub practice: PathBuf,
    /// Before or after the treatment; left out: after if the record holds the treatment, else before.
    #[arg(short, long, value_enum)]
    pub moment: Option<MomentArg>,
}

/// Before or after.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum MomentArg {
    /// Consent packet.
    Before,
    /// Aftercare packet.
    After,
}

impl MomentArg {
    /// What the program calls it.
    #[must_use]
    pub fn moment(self) -> Moment {
        match self {
            Self::Before => Moment::Before,
            Self::After => Moment::After,
        }
    }
}

/// For people or for programs.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For people.
    #[default]
    Human,
    /// For programs.
    Json,
}

/// Arguments of `print`.
#[derive(Debug, Args)]
pub struct Print {
    /// Which case, which practice.
    #[command(flatten)]
    pub case: Case,
    /// Folder for the pages, made if it is missing (files are readable by you alone); `-` writes the one page chosen with --page to standard output.
    #[arg(short, long, default_value = ".", value_name = "FOLDER")]
    pub out: PathBuf,
    /// Only this page; packet.json, which says whose it is, stands beside it.
    #[arg(long, value_enum)]
    pub page: Option<PageArg>,
    /// Also the papers around the treatment that the record calls for, such as the procedure note.
    #[arg(long, conflicts_with = "page")]
    pub papers: bool,
    /// What the pages are made for, one or more between commas: paper, a browser or screen reader, an email.
    #[arg(long = "as", value_enum, value_delimiter = ',', default_value = "pdf", value_name = "FORM")]
    pub forms: Vec<FormArg>,
    /// Date and time of issue, UTC, like 2026-08-03T14:00:00Z; left out: now. The same value gives the same bytes.
    #[arg(long, value_parser = issued, value_name = "TIME")]
    pub issued: Option<NaiveDateTime>,
    /// Issue the pages at that time although it does not fit the record: a consent after the planned start, an aftercare before the
    /// patient leaves, anything over a year from the treatment.
    #[arg(long)]
    pub issued_anyway: bool,
    /// Also issue them into this register, a file or postgres://user@host/database, with the other eye of the patient if it is there and both share a calendar. Pages of
    /// another content are refused at a revision that was issued.
    #[cfg(feature = "desk")]
    #[arg(long, value_name = "REGISTER", requires = "by")]
    pub register: Option<PathBuf>,
    /// Who issues them: somebody whom `people` lists.
    #[cfg(feature = "desk")]
    #[arg(long, value_name = "NAME", requires = "register")]
    pub by: Option<String>,
    /// How to report what was made.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// What pages are made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum FormArg {
    /// Paper: tagged PDF.
    Pdf,
    /// One HTML file without scripts.
    Html,
    /// Plain text.
    Text,
}

impl FormArg {
    /// What the packet calls it.
    #[must_use]
    pub fn form(self) -> Form {
        match self {
            Self::Pdf => Form::Pdf,
            Self::Html => Form::Html,
            Self::Text => Form::Text,
        }
    }
}

/// Which file of a packet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum PageArg {
    /// Consent packet.
    Consent,
    /// Aftercare packet.
    Aftercare,
    /// Drop calendar for both eyes.
    BothEyes,
    /// Surgeon sheet.
    Surgeon,
    /// Desk sheet.
    Desk,
    /// Procedure note for the chart, after the treatment.
    Note,
    /// Letter to the doctor who referred the patient, after the treatment.
    Letter,
    /// Urgent letter to a retina specialist, when what happened or was found calls for it.
    UrgentLetter,
    /// Form that the patient marks: how much the floater bothers, before and after the treatment.
    Outcome,
    /// Calendar of the drops that begin before the treatment.
    DropsBefore,
    /// Slip on which the patient takes the consent back, before the treatment.
    Withdrawal,
    /// Plan of a further session, after the treatment, if the record holds one.
    NextSession,
    /// Suitability sheet of a first visit; the record may be half filled in.
    Suitability,
    /// Calendar file (iCalendar).
    Calendar,
    /// Everything as data (JSON).
    Packet,
}

impl PageArg {
    /// Whether a file of the packet is this page, in the patient's or the staff's own language.
    #[must_use]
    pub fn is(self, output: Output) -> bool {
        match self {
            Self::Consent => matches!(output, Output::Page(Page::Consent, _)),
            Self::Aftercare => matches!(output, Output::Page(Page::Aftercare, _)),
            Self::BothEyes => matches!(output, Output::Page(Page::BothEyes, _)),
            Self::Surgeon => matches!(output, Output::Page(Page::Surgeon, _)),
            Self::Desk => matches!(output, Output::Page(Page::Desk, _)),
            Self::Note => matches!(output, Output::Page(Page::Note, _)),
            Self::Letter => matches!(output, Output::Page(Page::Letter, _)),
            Self::UrgentLetter => matches!(output, Output::Page(Page::UrgentLetter, _)),
            Self::Outcome => matches!(output, Output::Page(Page::Outcome, _)),
            Self::DropsBefore => matches!(output, Output::Page(Page::DropsBefore, _)),
            Self::Withdrawal => matches!(output, Output::Page(Page::Withdrawal, _)),
            Self::NextSession => matches!(output, Output::Page(Page::NextSession, _)),
            Self::Suitability => matches!(output, Output::Page(Page::Suitability, _)),
            Self::Calendar => output == Output::Calendar,
            Self::Packet => output == Output::Data,
        }
    }
}

/// Arguments of `check`.
#[derive(Debug, Args)]
pub struct Check {
    /// Which case, which practice.
    #[command(flatten)]
    pub case: Case,
    /// Also lay the pages out, and say which of them `print` would refuse and why.
    #[arg(long)]
    pub pages: bool,
    /// How to report.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// A practice folder.
#[derive(Debug, Args)]
pub struct PracticeArgs {
    /// Folder of the practice, with profile.toml.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE")]
    pub practice: PathBuf,
    /// How to write.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Arguments of `translations`.
#[derive(Debug, Args)]
pub struct Translations {
    /// Folder of the practice, with profile.toml.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE")]
    pub practice: PathBuf,
    /// Only this language, also one the practice does not print in yet; left out: all it prints in.
    #[arg(short, long, value_name = "TAG")]
    pub language: Vec<String>,
    /// Print an entry for translation.toml with the hashes of all texts that wait for it, to be cut to what was done.
    #[arg(long, value_enum, conflicts_with = "format")]
    pub entries: Option<Wanted>,
    /// How to write.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Which entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Wanted {
    /// Who translated, from which source.
    Translated,
    /// Who reviewed, which translation.
    Reviewed,
}

/// Arguments of `facts`.
#[derive(Debug, Args)]
pub struct Facts {
    /// A case record; left out: the list of all facts with unit and meaning.
    #[arg(value_name = "CASE", requires = "practice")]
    pub case: Option<PathBuf>,
    /// Folder of the practice.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE")]
    pub practice: Option<PathBuf>,
    /// Before or after the treatment.
    #[arg(short, long, value_enum)]
    pub moment: Option<MomentArg>,
    /// How to write.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Arguments of `plan`.
#[derive(Debug, Args)]
pub struct Plan {
    /// Which case, which practice.
    #[command(flatten)]
    pub case: Case,
    /// How to write.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Arguments of `plain`.
#[derive(Debug, Args)]
pub struct Plain {
    /// Which case, which practice.
    #[command(flatten)]
    pub case: Case,
    /// How to write.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Arguments of `audit`.
#[derive(Debug, Args)]
pub struct Audit {
    /// Which case, which practice.
    #[command(flatten)]
    pub case: Case,
    /// How to write.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Arguments of `explain`.
#[derive(Debug, Args)]
pub struct Explain {
    /// Which case, which practice.
    #[command(flatten)]
    pub case: Case,
    /// How to write.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Arguments of `compare`.
#[derive(Debug, Args)]
pub struct Compare {
    /// The case record as it was.
    #[arg(value_name = "OLD")]
    pub old: PathBuf,
    /// The case record as it is; left out: the same, to compare two practices.
    #[arg(value_name = "NEW", required_unless_present = "old_practice")]
    pub new: Option<PathBuf>,
    /// Folder of the practice.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE")]
    pub practice: PathBuf,
    /// Folder of the practice as it was, with its own texts and rules; left out: the same.
    #[arg(long, value_name = "FOLDER")]
    pub old_practice: Option<PathBuf>,
    /// Before or after the treatment.
    #[arg(short, long, value_enum)]
    pub moment: Option<MomentArg>,
    /// How to write.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Arguments of `coverage`.
#[derive(Debug, Args)]
pub struct Coverage {
    /// Case records, TOML or JSON.
    #[arg(required = true, value_name = "CASE")]
    pub cases: Vec<PathBuf>,
    /// Folder of the practice.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE")]
    pub practice: PathBuf,
    /// How to write.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Arguments of `blocks`.
#[derive(Debug, Args)]
pub struct Blocks {
    /// Which case, which practice.
    #[command(flatten)]
    pub case: Case,
    /// Date and time of issue, UTC, like 2026-08-03T14:00:00Z; left out: now.
    #[arg(long, value_parser = issued, value_name = "TIME")]
    pub issued: Option<NaiveDateTime>,
    /// With the pictures and the code that layout files draw: what they read as document.json, for each case a list.
    #[arg(long)]
    pub drawn: bool,
}

/// Arguments of `new`.
#[derive(Debug, Args)]
pub struct New {
    /// Folder of the practice, with profile.toml.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE")]
    pub practice: Option<PathBuf>,
    /// File to write, which must not be there yet; left out: standard output.
    #[arg(short, long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// A record for people to fill in, or for programs every key with what may stand there.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Arguments of `demo`.
#[derive(Debug, Args)]
pub struct Demo {
    /// Folder to write into.
    #[arg(default_value = "demo", value_name = "FOLDER")]
    pub out: PathBuf,
}

/// Arguments of `schema`.
#[derive(Debug, Args)]
pub struct Schema {
    /// Which file or output the schema is for.
    #[arg(value_parser = described())]
    pub of: String,
}

/// What has a schema, by name.
fn described() -> PossibleValuesParser {
    let value = |described: &Described| PossibleValue::new(described.name).help(described.what);
    PossibleValuesParser::new(schema::ALL.iter().map(value))
}

/// A time that cannot be read.
#[derive(Debug, thiserror::Error)]
#[error("write the time in UTC like 2026-08-03T14:00:00Z")]
struct NoTime;

fn issued(text: &str) -> Result<NaiveDateTime, NoTime> {
    NaiveDateTime::parse_from_str(text, "%Y-%m-%dT%H:%M:%SZ").map_err(|_| NoTime)
}
