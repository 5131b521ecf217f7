//! `register`: the register as a whole.

use super::args::{Erase, Keeping, Store, Verify};
use super::report::{self, Failure};
use super::{Status, io, print, register};
use crate::register::Register;

pub(super) fn run(command: &Keeping) -> Result<Status, Failure> {
    match command {
        Keeping::Verify(args) => verify(args),
        Keeping::Head(args) => io::stdout(format!("{}\n", open(args)?.head()?).as_bytes()),
        Keeping::Erase(args) => erase(args),
    }
}

/// A register that is there: none is made by looking after it.
fn open(store: &Store) -> Result<Register, Failure> {
    let file = match (&store.register, &store.practice) {
        (Some(file), _) => file.clone(),
        (None, Some(practice)) => register::file(practice, None),
        (None, None) => return Err("say which register: --register FILE".into()),
    };
    if !file.exists() {
        return Err(format!("there is no register {}", file.display()).into());
    }
    Ok(Register::in_file(&file)?)
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
    let rows = register.erase(case, args.by.trim(), &args.reason, print::now()?)?;
    report::line(&format!(
        "erased {} ({rows} rows); backups still hold it: erase them too, or wait until they go",
        args.code
    ));
    Ok(Status::Done)
}
