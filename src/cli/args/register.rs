//! What the desk, its register and its outcomes take.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

use super::Format;

/// The practice of a desk, and its register.
#[derive(Debug, Args)]
pub struct Register {
    /// Folder of the practice, with profile.toml.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE")]
    pub practice: PathBuf,
    /// The register: a file, or postgres://user@host/database on a server of the practice (a socket:
    /// postgres://user@/database?host=/folder); left out: where the profile says, else a file beside the practice's folder, under
    /// its name with -register.sqlite3 added. Passwords stand in the passfile, never here.
    #[arg(long, value_name = "REGISTER")]
    pub register: Option<PathBuf>,
}

/// What is done with a register as a whole.
#[derive(Debug, Subcommand)]
pub enum Keeping {
    /// Walk the ledger from its first row and name the first one that is not as it was written.
    Verify(Verify),
    /// Print the head of the ledger, to be written down elsewhere.
    Head(Store),
    /// Copy the register into a file that is not there yet, check the copy, and put its receipt beside it.
    ///
    /// A register on a server is copied into a file too, which comes back on a server or as a file.
    /// The receipt carries the head of the ledger. A copy that leaves the practice is sealed to a key (--seal-to), in the format age.
    Backup(Backup),
    /// Make the key that opens sealed backups, and print to whom they are sealed.
    Key(MakeKey),
    /// Put a backup where no register stands yet, checked against the receipt beside it.
    Restore(Restore),
    /// Erase everything that is kept of a case but its code. The ledger says by whom and why, and stays whole.
    Erase(Erase),
    /// Let a role of the server use the register. It adds to the ledger and reads it, and neither changes nor erases it.
    ///
    /// Whoever keeps the server has made the role; say this as the role that made the register, again after an update.
    Role(Role),
}

/// Where a register is.
#[derive(Debug, Args)]
pub struct Store {
    /// Folder of the practice, whose profile says where the register is, or beside which it stands.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE", required_unless_present = "register")]
    pub practice: Option<PathBuf>,
    /// The register: a file, or postgres://user@host/database on a server of the practice.
    #[arg(long, value_name = "REGISTER")]
    pub register: Option<PathBuf>,
}

/// Arguments of `register verify`.
#[derive(Debug, Args)]
pub struct Verify {
    /// Which register.
    #[command(flatten)]
    pub store: Store,
    /// A head that was given out earlier: the ledger must still lead through it.
    #[arg(long, value_name = "HEAD")]
    pub head: Option<crate::register::Head>,
}

/// Arguments of `verify`.
#[derive(Debug, Args)]
pub struct VerifyFile {
    /// A file that somebody was given; `-` reads standard input.
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Folder of the practice, whose profile says where the register is, or beside which it stands.
    #[arg(short, long, value_name = "FOLDER", conflicts_with = "register")]
    pub practice: Option<PathBuf>,
    /// The register: a file, or postgres://user@host/database on a server of the practice; without practice and register the file
    /// only says what it is.
    #[arg(long, value_name = "REGISTER")]
    pub register: Option<PathBuf>,
    /// For people or for programs.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}

/// Arguments of `register backup`.
#[derive(Debug, Args)]
pub struct Backup {
    /// Which register.
    #[command(flatten)]
    pub store: Store,
    /// File to write, which must not be there yet; its receipt has the same name with .receipt.json added.
    #[arg(value_name = "FILE")]
    pub to: PathBuf,
    /// Seal the copy to this recipient, age1... as `register key` printed it; each of several opens it.
    #[arg(long, value_name = "RECIPIENT")]
    pub seal_to: Vec<crate::register::Recipient>,
}

/// Arguments of `register key`.
#[derive(Debug, Args)]
pub struct MakeKey {
    /// File to write, which must not be there yet, readable by you alone. Whoever has it reads the backups.
    #[arg(value_name = "FILE")]
    pub to: PathBuf,
}

/// Arguments of `register restore`.
#[derive(Debug, Args)]
pub struct Restore {
    /// Where the register is to stand.
    #[command(flatten)]
    pub store: Store,
    /// The backup, with its receipt beside it.
    #[arg(value_name = "FILE")]
    pub from: PathBuf,
    /// File with the key of a sealed backup.
    #[arg(long, value_name = "FILE")]
    pub key: Option<PathBuf>,
}

/// Arguments of `register erase`.
#[derive(Debug, Args)]
pub struct Erase {
    /// Which register.
    #[command(flatten)]
    pub store: Store,
    /// Code of the case.
    #[arg(value_name = "CODE")]
    pub code: String,
    /// Who erases it: somebody whom `people` lists.
    #[arg(long, value_name = "NAME")]
    pub by: String,
    /// Why, in words that say nothing about the patient: they stay.
    #[arg(long)]
    pub reason: String,
}

/// Arguments of `register role`.
#[derive(Debug, Args)]
pub struct Role {
    /// Which register.
    #[command(flatten)]
    pub store: Store,
    /// Name of the role, as the server knows it.
    #[arg(value_name = "ROLE")]
    pub name: String,
}

/// Arguments of `desk`.
#[derive(Debug, Args)]
pub struct Desk {
    /// Folder of the practice, with profile.toml; left out: an invented practice.
    #[arg(short, long, value_name = "FOLDER", env = "VITREOLEAF_PRACTICE")]
    pub practice: Option<PathBuf>,
    /// The register: a file, or postgres://user@host/database on a server of the practice; left out: where the profile says, else a
    /// file beside the practice's folder, under its name with -register.sqlite3 added.
    #[arg(long, value_name = "REGISTER", requires = "practice")]
    pub register: Option<PathBuf>,
    /// Port of 127.0.0.1; left out: the one of the last time if it is free.
    #[arg(long)]
    pub port: Option<u16>,
    /// Print the address and open no browser.
    #[arg(long)]
    pub no_open: bool,
}

/// Arguments of `people`.
#[derive(Debug, Args)]
pub struct People {
    /// The practice and its register.
    #[command(flatten)]
    pub register: Register,
    /// Name of somebody to add or change, as it stands under what they sign; the passphrase is read from standard input.
    #[arg(value_name = "NAME", requires = "what")]
    pub name: Option<String>,
    /// What they may do.
    #[arg(long, value_enum, requires = "name", group = "what")]
    pub role: Option<RoleArg>,
    /// Take them out: they can sign in no more, and what they signed stays.
    #[arg(long, requires = "name", group = "what")]
    pub take_out: bool,
    /// Who does it, somebody whom `people` lists: the ledger keeps it. Left out: they themselves, as the first one does.
    #[arg(long, value_name = "NAME", requires = "name")]
    pub by: Option<String>,
    /// List instead what was done with people, by whom and when (UTC).
    #[arg(long, conflicts_with = "name")]
    pub changes: bool,
}

/// What somebody may do at the desk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum RoleArg {
    /// Names, appointments, printing.
    Desk,
    /// Also what was asked, measured and given.
    Nurse,
    /// Everything, and signing.
    Surgeon,
}

/// Arguments of `import`.
#[derive(Debug, Args)]
pub struct Import {
    /// The practice and its register.
    #[command(flatten)]
    pub register: Register,
    /// Case records, TOML or JSON, complete or half filled in.
    #[arg(required = true, value_name = "CASE")]
    pub cases: Vec<PathBuf>,
}

/// Arguments of `export`.
#[derive(Debug, Args)]
pub struct Export {
    /// The practice and its register.
    #[command(flatten)]
    pub register: Register,
    /// Codes of the cases; left out: all that have one.
    #[arg(value_name = "CODE")]
    pub codes: Vec<String>,
    /// Folder for the files, made if it is missing.
    #[arg(short, long, default_value = ".", value_name = "FOLDER")]
    pub out: PathBuf,
}

/// What `outcomes` does.
#[derive(Debug, Subcommand)]
pub enum Outcomes {
    /// Take a table of outcomes into the register.
    ///
    /// CSV in UTF-8 with commas; the first line names the columns, as `outcomes export` writes them: case (its code), visit (an id of
    /// the profile, event or other), date (2026-08-14), pressure_mmhg, acuity, bother_before_0_to_10, bother_after_0_to_10,
    /// questionnaire with its version and score, change (gone, much_better, little_better, same, worse), further_laser, surgery and
    /// lost (yes, no), and one event (event_kind, event_date, event_severity, event_done). Further events of a visit stand in further
    /// lines with the same case, visit and date. An empty field was not recorded. A wrong line is named and the rest taken; what the
    /// register has already is not taken twice.
    Import(ImportOutcomes),
    /// Write all outcomes as a table.
    Export(ExportOutcomes),
    /// List the visits that are due or were missed: no outcome of them is entered.
    List(ListOutcomes),
}

/// Arguments of `outcomes import`.
#[derive(Debug, Args)]
pub struct ImportOutcomes {
    /// The practice and its register.
    #[command(flatten)]
    pub register: Register,
    /// Who answers for what it holds, one of the people of the register.
    #[arg(long, value_name = "NAME")]
    pub by: String,
    /// The table; `-` reads standard input.
    #[arg(value_name = "TABLE")]
    pub table: PathBuf,
}

/// Arguments of `outcomes export`.
#[derive(Debug, Args)]
pub struct ExportOutcomes {
    /// The practice and its register.
    #[command(flatten)]
    pub register: Register,
    /// File for the table, readable by you alone, which must not be there yet; `-` is standard output.
    #[arg(short, long, default_value = "-", value_name = "FILE")]
    pub out: PathBuf,
}

/// Arguments of `outcomes list`.
#[derive(Debug, Args)]
pub struct ListOutcomes {
    /// The practice and its register.
    #[command(flatten)]
    pub register: Register,
    /// For people or for programs.
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
}
