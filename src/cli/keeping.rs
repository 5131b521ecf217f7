//! `register`: the register as a whole.

use std::path::Path;

use super::args::{Backup, Erase, Keeping, MakeKey, Restore, Role, Store, Verify};
use super::report::{self, Failure};
use super::{Status, clock, io, practice, register};
use crate::register::{Keys, Place, Register};

pub(super) fn run(command: &Keeping) -> Result<Status, Failure> {
    match command {
        Keeping::Verify(args) => verify(args),
        Keeping::Head(args) => io::stdout(format!("{}\n", open(args)?.head()?).as_bytes()),
        Keeping::Backup(args) => backup(args),
        Keeping::Key(args) => key(args),
        Keeping::Restore(args) => restore(args),
        Keeping::Erase(args) => erase(args),
        Keeping::Role(args) => role(args),
    }
}

/// Where a register is.
fn place(register: Option<&Path>, practice: Option<&Path>) -> Result<Place, Failure> {
    match (register, practice) {
        (Some(named), _) => register::named(named),
        (None, Some(folder)) => register::place(folder, &practice::open(folder)?, None),
        (None, None) => Err("say which register: --register REGISTER".into()),
    }
}

fn place_of(store: &Store) -> Result<Place, Failure> {
    place(store.register.as_deref(), store.practice.as_deref())
}

/// A register that is there: none is made by looking after it.
fn open(store: &Store) -> Result<Register, Failure> {
    there(store.register.as_deref(), store.practice.as_deref())
}

/// The same by what somebody named.
pub(super) fn there(register: Option<&Path>, practice: Option<&Path>) -> Result<Register, Failure> {
    let place = place(register, practice)?;
    Register::find_at(&place)?.ok_or_else(|| {
        Failure::Told(format!(
            "there is no register {place}: name it with --register; it is made when something is issued"
        ))
    })
}

fn backup(args: &Backup) -> Result<Status, Failure> {
    let receipt = open(&args.store)?.back_up(&args.to, &args.seal_to, clock::now()?)?;
    let made = if receipt.sealed { "made, checked and sealed" } else { "made and checked" };
    report::line(&format!("{made} {} with its receipt; the head of its ledger is", args.to.display()));
    io::stdout(format!("{}\n", receipt.head).as_bytes())
}

fn key(args: &MakeKey) -> Result<Status, Failure> {
    let whom = Keys::make(&args.to)?;
    report::line(&format!(
        "made {}: keep it where the backups are not, and a copy of it; without it nobody opens them. Seal to",
        args.to.display()
    ));
    io::stdout(format!("{whom}\n").as_bytes())
}

fn restore(args: &Restore) -> Result<Status, Failure> {
    let to = place_of(&args.store)?;
    let keys = args.key.as_deref().map(Keys::read).transpose()?.unwrap_or_default();
    let head = Register::restore(&args.from, &to, &keys)?;
    report::line(&format!("{to} is the register again, as of its receipt; the head of its ledger is"));
    io::stdout(format!("{head}\n").as_bytes())
}

fn verify(args: &Verify) -> Result<Status, Failure> {
    match open(&args.store)?.verify(args.head.as_ref())? {
        Ok(found) => {
            for number in found.set_back {
                report::line(&format!("row {number} is dated before the row in front of it: the clock was set back"));
            }
            let (rows, erased) = (found.head.number, found.erased);
            report::line(&format!("the ledger is whole: {rows} rows, of which {erased} were erased; its head is"));
            io::stdout(format!("{}\n", found.head).as_bytes())
        }
        Err(broken) => {
            Err(format!("{broken}: restore the last backup, and keep this file for whoever looks into it").into())
        }
    }
}

fn erase(args: &Erase) -> Result<Status, Failure> {
    let mut register = open(&args.store)?;
    let case = register.by_code(&args.code)?.ok_or_else(|| Failure::Told(format!("there is no case {}", args.code)))?;
    let rows = register.erase(case, args.by.trim(), &args.reason, clock::now()?)?;
    report::line(&format!(
        "erased {} ({rows} rows); backups still hold it: erase them too, or wait until they go",
        args.code
    ));
    Ok(Status::Done)
}

fn role(args: &Role) -> Result<Status, Failure> {
    Register::let_in(&place_of(&args.store)?, &args.name)?;
    report::line(&format!(
        "{} may use the register: it adds to the ledger and reads it, and changes and erases nothing",
        args.name
    ));
    Ok(Status::Done)
}
