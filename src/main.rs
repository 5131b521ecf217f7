//! Parses the command line, runs it, ends.

use std::process::ExitCode;

use clap::Parser;
use vitreoleaf::cli::{self, args::Cli};

fn main() -> ExitCode {
    cli::run(&Cli::parse()).into()
}
