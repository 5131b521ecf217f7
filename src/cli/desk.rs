//! `desk`: the page in the browser.

use std::panic;
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering;

use chrono::NaiveDateTime;

use super::args::Desk as Args;
use super::report::{self, Failure};
use super::{Status, clock, interrupt, io, practice, register};
use crate::desk::{Clock, Desk, Example, Memory};
use crate::files::create::{self, Temporary};
use crate::register::{Place, Register, sha256};

/// Opens the desk and answers until somebody ends it.
pub(super) fn run(args: &Args) -> Result<Status, Failure> {
    // What a panic was about stays out of the terminal; where it was helps whoever mends it.
    panic::set_hook(Box::new(|panic| {
        if let Some(place) = panic.location() {
            report::line(&format!("error: the program failed at {place}; what was saved is safe"));
        }
    }));
    let folder = create::temporary().map_err(|error| Failure::Told(error.to_string()))?;
    let desk = match &args.practice {
        Some(practice) => of(practice, args)?,
        None => example(args, &folder)?,
    };
    let stop = interrupt::asked()?;
    io::stdout(format!("{}\n", desk.address()).as_bytes())?;
    if !args.no_open {
        desk.open_browser(folder.path())?;
    }
    report::line("The desk is open at this address, for one browser on this machine. Ctrl-C ends it.");
    desk.serve(|| stop.load(Ordering::Relaxed))?;
    report::line("The desk is closed; what was typed is saved.");
    Ok(Status::Done)
}

fn of(folder: &Path, args: &Args) -> Result<Desk, Failure> {
    let practice = practice::open(folder)?;
    let place = register::place(folder, &practice, args.register.as_deref())?;
    let memory = memory(folder, &place).map_or_else(Memory::default, |file| Memory::at(&file));
    Ok(Desk::new(practice, Register::open(&place)?, Box::new(now), args.port, memory)?.kept_in(folder))
}

/// Where this machine remembers the desk of a practice and its register; nowhere if nobody has a home.
fn memory(folder: &Path, place: &Place) -> Option<PathBuf> {
    let register = match place {
        Place::File(file) => std::path::absolute(file).ok()?.display().to_string(),
        server @ Place::Server(_) => server.to_string(),
    };
    let which = sha256(format!("{}\n{register}", folder.canonicalize().ok()?.display()).as_bytes());
    Some(state()?.join("vitreoleaf").join(format!("desk-{}.json", which.get(..16)?)))
}

/// The folder in which each system keeps what programs remember of somebody.
fn state() -> Option<PathBuf> {
    let named = |name| std::env::var_os(name).map(PathBuf::from).filter(|folder| folder.is_absolute());
    match (named("LOCALAPPDATA"), named("XDG_STATE_HOME")) {
        (Some(folder), _) if cfg!(windows) => Some(folder),
        _ if cfg!(target_os = "macos") => Some(std::env::home_dir()?.join("Library").join("Application Support")),
        (_, Some(folder)) => Some(folder),
        _ => Some(std::env::home_dir()?.join(".local").join("state")),
    }
}

/// The invented practice, on its own day; nothing of it is kept.
fn example(args: &Args, folder: &Temporary) -> Result<Desk, Failure> {
    let example = Example::read()?;
    let mut register = Register::in_file(&folder.path().join("register.sqlite3"))?;
    example.fill(&mut register)?;
    let began = now();
    let clock: Clock = Box::new(move || Example::begins() + (now() - began));
    report::line(
        "Without a practice (-p FOLDER) this is an example: invented people, an invented day, nothing is kept.",
    );
    Ok(Desk::new(example.practice, register, clock, args.port, Memory::default())?.of_the_example())
}

/// Now; a clock that is not set stands at its beginning, and nothing is issued then.
fn now() -> NaiveDateTime {
    clock::now().unwrap_or_default()
}
