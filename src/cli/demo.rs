//! `demo`: the invented practice, its invented cases and all their pages, and a register with an invented history.

#[cfg(feature = "desk")]
use std::path::Path;

use super::args::Demo as Args;
use super::report::{self, Failure};
use super::{Status, print};
use crate::batch::Outcome;
use crate::demo::Demo;
#[cfg(feature = "desk")]
use crate::desk::{Example, PASSPHRASE, TREATMENTS};
#[cfg(feature = "desk")]
use crate::files::{copy::copy, create};
use crate::packet::Form;
#[cfg(feature = "desk")]
use crate::register::Register;

/// Writes the demo.
pub(super) fn run(args: &Args) -> Result<Status, Failure> {
    let demo = Demo::read()?;
    let packets = demo.packets();
    let outcomes = print::watched(packets.len(), |watch| demo.write(&args.out, &[Form::Pdf], watch))??;
    let pages: usize = outcomes.iter().map(files).map(<[String]>::len).sum();
    let count = demo.samples() + pages;
    report::line(&format!("{count} files in {} (invented people, not for use):", args.out.display()));
    for ((name, ..), outcome) in packets.iter().zip(&outcomes) {
        for file in files(outcome) {
            report::line(&format!("  {}", args.out.join(name).join(file).display()));
        }
        match outcome {
            Outcome::Made(made) => {
                if let Some(withheld) = &made.withheld {
                    report::line(&format!("    {}", withheld.says));
                }
            }
            Outcome::Refused(_, why) => report::line(&format!("error: {name}: {why}")),
            Outcome::Stopped => {}
        }
    }
    #[cfg(feature = "desk")]
    register(&args.out.join("practice"))?;
    // The demo withholds pages on purpose.
    Ok(if print::status(&outcomes) == Status::Failed { Status::Failed } else { Status::Done })
}

fn files(outcome: &Outcome) -> &[String] {
    match outcome {
        Outcome::Made(made) => &made.files,
        Outcome::Refused(..) | Outcome::Stopped => &[],
    }
}

/// The register of the invented practice beside its folder, with people, cases and history. One that is there stays as it is.
#[cfg(feature = "desk")]
fn register(practice: &Path) -> Result<(), Failure> {
    let place = super::register::beside(practice);
    if place.exists() {
        report::line(&format!("  {} is there already and stays as it is", place.display()));
        return Ok(());
    }
    let folder = create::temporary().map_err(|error| Failure::Told(error.to_string()))?;
    let made = folder.path().join("register.sqlite3");
    Example::read()?.fill(&mut Register::in_file(&made)?)?;
    copy(&made, &place).map_err(|error| Failure::Told(error.to_string()))?;
    report::line(&format!(
        "  {}: {TREATMENTS} invented treatments; open it with vitreoleaf desk -p {}, everybody's passphrase: {PASSPHRASE}",
        place.display(),
        practice.display()
    ));
    Ok(())
}
