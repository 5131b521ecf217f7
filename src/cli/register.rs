//! `people`, `import` and `export`: the register of the desk from the command line.

use std::io::{BufRead, IsTerminal};
use std::path::{Path, PathBuf};

use super::args::{Export, Import, People, Register as Args, RoleArg};
use super::report::{self, Failure};
use super::{Status, clock, io, practice};
use crate::files::read;
use crate::files::write::Locked;
use crate::packet::json;
use crate::practice::{Draft, Practice};
use crate::record::form::KnownBy;
use crate::record::locate;
use crate::register::{CaseFile, CaseId, NoPlace, Passphrase, Person, PersonChange, Place, Register, RegisterError};

/// Where the register of a practice stands: where somebody says, else where its profile says, else in a file beside its
/// folder, so that a folder that is handed on holds nobody's data.
pub(super) fn place(folder: &Path, practice: &Practice, chosen: Option<&Path>) -> Result<Place, Failure> {
    match (chosen, &practice.profile.register) {
        (Some(chosen), _) => named(chosen),
        (None, Some(address)) => match named(Path::new(address))? {
            Place::File(_) => Err(NoPlace::Form.to_string().into()),
            server @ Place::Server(_) => Ok(server),
        },
        (None, None) => Ok(beside(folder).as_path().into()),
    }
}

/// The place that somebody names: the address of a server, or a file.
pub(super) fn named(place: &Path) -> Result<Place, Failure> {
    Ok(Place::read(place).map_err(RegisterError::from)?.with_passfile(passfile()))
}

/// The file of a register beside the folder of its practice.
pub(super) fn beside(folder: &Path) -> PathBuf {
    let folder = folder.canonicalize().unwrap_or_else(|_| folder.to_owned());
    let mut name = folder.file_name().unwrap_or_default().to_owned();
    name.push("-register.sqlite3");
    folder.with_file_name(name)
}

/// The passfile of PostgreSQL: where PGPASSFILE says, else where each system keeps it.
fn passfile() -> Option<PathBuf> {
    let named = std::env::var_os("PGPASSFILE").map(PathBuf::from);
    named.or_else(|| match std::env::var_os("APPDATA") {
        Some(folder) if cfg!(windows) => Some(Path::new(&folder).join("postgresql").join("pgpass.conf")),
        _ => Some(std::env::home_dir()?.join(".pgpass")),
    })
}

fn open(args: &Args, practice: &Practice) -> Result<Register, Failure> {
    Ok(Register::open(&place(&args.practice, practice, args.register.as_deref())?)?)
}

/// Lists everybody or what was done with them, sets somebody's role and passphrase, or takes somebody out.
pub(super) fn people(args: &People) -> Result<Status, Failure> {
    let mut register = open(&args.register, &practice::open(&args.register.practice)?)?;
    let Some(name) = args.name.as_deref().map(str::trim) else { return listed(&register, args.changes) };
    if name.is_empty() {
        return Err("the name is empty: write it as it is to stand under what they sign".into());
    }
    let by = args.by.as_deref().map_or(name, str::trim);
    match args.role.map(known_by) {
        Some(role) => {
            let person = Person { name: name.to_owned(), role, passphrase: passphrase()? };
            register.put_person(&person, by, clock::now()?).map_err(nobody)?;
            report::line(&format!("{name} may sign in: {}", word(role)));
        }
        None => {
            register.take_out_person(name, by, clock::now()?).map_err(nobody)?;
            report::line(&format!("{name} can sign in no more; what they signed stays"));
        }
    }
    Ok(Status::Done)
}

fn nobody(error: RegisterError) -> Failure {
    match error {
        RegisterError::NoPerson => {
            Failure::Told("say who does it with --by, and write both names as `vitreoleaf people` lists them".into())
        }
        error => error.into(),
    }
}

fn listed(register: &Register, changes: bool) -> Result<Status, Failure> {
    let lines: String = match changes {
        true => register.person_changes()?.iter().map(changed).collect(),
        false => register.people()?.iter().map(|person| format!("{}: {}\n", person.name, word(person.role))).collect(),
    };
    io::stdout(lines.as_bytes())
}

fn changed(change: &PersonChange) -> String {
    let what = change.role.map_or("taken out", word);
    let by = change.by.as_deref().unwrap_or("somebody before the ledger told of it");
    format!("{} UTC  {}: {what}, by {by}\n", change.at.format("%Y-%m-%d %H:%M"), change.name)
}

/// One line: from a terminal without showing it, else from standard input.
fn passphrase() -> Result<Passphrase, Failure> {
    let input = std::io::stdin();
    let line = if input.is_terminal() {
        report::line("Type the passphrase, at least 12 characters, and Enter. It is not shown.");
        rpassword::read_password()?
    } else {
        let mut line = String::new();
        input.lock().read_line(&mut line)?;
        line
    };
    Ok(Passphrase::new(line.trim_end_matches(['\r', '\n']))?)
}

fn known_by(role: RoleArg) -> KnownBy {
    match role {
        RoleArg::Desk => KnownBy::Desk,
        RoleArg::Nurse => KnownBy::Nurse,
        RoleArg::Surgeon => KnownBy::Surgeon,
    }
}

fn word(role: KnownBy) -> &'static str {
    match role {
        KnownBy::Desk => "desk",
        KnownBy::Nurse => "nurse",
        KnownBy::Surgeon => "surgeon",
    }
}

/// Takes case records in, one by one; one that is refused costs none of the others.
pub(super) fn import(args: &Import) -> Result<Status, Failure> {
    let practice = practice::open(&args.register.practice)?;
    let mut register = open(&args.register, &practice)?;
    let mut status = Status::Done;
    for path in &args.cases {
        let taken = read::source(path).map_err(Failure::from).and_then(|file| {
            Draft::read(&file, &practice)?;
            Ok(register.add(&CaseFile::imported(locate::read(&file).0.value)?)?)
        });
        match taken {
            Ok(_) => report::line(&format!("took in {}", path.display())),
            Err(failure) => {
                report::failure(&super::case::in_file(path, failure));
                status = Status::Failed;
            }
        }
    }
    Ok(status)
}

/// Writes cases as case records, each under its code.
pub(super) fn export(args: &Export) -> Result<Status, Failure> {
    let register = open(&args.register, &practice::open(&args.register.practice)?)?;
    let folder = Locked::wait(&args.out)?;
    for id in wanted(&register, &args.codes)? {
        let Some(case) = register.case(id)? else { continue };
        let Some(code) = case.file.code() else { continue };
        let name = format!("{code}.json");
        folder.swap_in(&[(&name, json::text(&case.file.exported())?.as_bytes())])?;
        report::line(&format!("made {}", args.out.join(&name).display()));
    }
    Ok(Status::Done)
}

fn wanted(register: &Register, codes: &[String]) -> Result<Vec<CaseId>, Failure> {
    if codes.is_empty() {
        return Ok(register.all()?);
    }
    let id = |code: &String| register.by_code(code)?.ok_or_else(|| Failure::Told(format!("there is no case {code}")));
    codes.iter().map(id).collect()
}
