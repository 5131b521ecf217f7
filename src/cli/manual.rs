//! What stands beside the program once it is installed: manual pages, completions, the entry that starts the desk.

use std::path::Path;

use clap::CommandFactory;
use clap_complete::Shell;

use super::args::Cli;
use super::report::{self, Failure};
use super::{Status, io};
use crate::assets::Assets;
use crate::files::write::Locked;

const NAME: &str = "vitreoleaf";

/// Shells with completions, and the file that each looks for.
const SHELLS: [(Shell, &str); 3] =
    [(Shell::Bash, "vitreoleaf.bash"), (Shell::Zsh, "_vitreoleaf"), (Shell::Fish, "vitreoleaf.fish")];

/// Where the icon of the desk lies.
const ICON: &str = "templates/desk/icon.svg";

/// The entry of a menu (Desktop Entry Specification 1.5). It opens in a terminal, which tells the address and where Ctrl-C ends
/// the desk; VITREOLEAF_PRACTICE names the practice, else it is an invented one.
const ENTRY: &str = "\
[Desktop Entry]
Type=Application
Name=vitreoleaf
Comment=Pages around the laser treatment of vitreous floaters
Exec=vitreoleaf desk
Icon=vitreoleaf
Terminal=true
Categories=Science;MedicalSoftware;
";

/// Writes all of it into a folder.
pub(super) fn run(folder: &Path) -> Result<Status, Failure> {
    let mut files = pages(&program())?;
    files.extend(SHELLS.map(|(shell, name)| (name.to_owned(), completions(shell))));
    files.push((format!("{NAME}.desktop"), ENTRY.into()));
    files.push((format!("{NAME}.svg"), Assets::default().get(ICON).unwrap_or_default().into_owned().into_bytes()));
    let written: Vec<(&str, &[u8])> = files.iter().map(|(name, bytes)| (name.as_str(), bytes.as_slice())).collect();
    Locked::wait(folder)?.swap_in(&written)?;
    report::line(&format!("{} files in {}", files.len(), folder.display()));
    Ok(Status::Done)
}

/// Prints the manual page of the program or of one command.
pub(super) fn print(command: Option<&str>) -> Result<Status, Failure> {
    let program = program();
    let page = match command {
        None => Some(&program),
        Some(name) => program.find_subcommand(name),
    };
    let page = page.ok_or_else(|| format!("there is no command {}", command.unwrap_or_default()))?;
    io::stdout(&rendered(page)?)
}

/// The completions of a shell.
pub(super) fn completions(shell: Shell) -> Vec<u8> {
    let mut script = Vec::new();
    clap_complete::generate(shell, &mut Cli::command(), NAME, &mut script);
    script
}

/// The command line, its commands under their full names.
fn program() -> clap::Command {
    let mut program = Cli::command();
    program.build();
    program
}

/// A manual page for the program and for each command that its help lists.
fn pages(command: &clap::Command) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let name = command.get_display_name().unwrap_or(NAME);
    let mut found = vec![(format!("{name}.1"), rendered(command)?)];
    for command in command.get_subcommands().filter(|command| !command.is_hide_set() && command.get_name() != "help") {
        found.extend(pages(command)?);
    }
    Ok(found)
}

fn rendered(command: &clap::Command) -> Result<Vec<u8>, Failure> {
    let mut text = Vec::new();
    clap_mangen::Man::new(command.clone()).render(&mut text)?;
    Ok(text)
}
