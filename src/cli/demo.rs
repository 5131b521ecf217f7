//! `demo`: the invented practice, its invented cases and all their pages.

use super::args::Demo as Args;
use super::report::{self, Failure};
use super::{Status, print};
use crate::batch::Outcome;
use crate::demo::Demo;
use crate::packet::Form;

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
    // The demo withholds pages on purpose.
    Ok(if print::status(&outcomes) == Status::Failed { Status::Failed } else { Status::Done })
}

fn files(outcome: &Outcome) -> &[String] {
    match outcome {
        Outcome::Made(made) => &made.files,
        Outcome::Refused(..) | Outcome::Stopped => &[],
    }
}
