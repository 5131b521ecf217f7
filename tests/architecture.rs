//! The picture of the steps holds: no step looks back, and only the edge touches files, streams and the clock.

use std::fs;
use std::path::{Path, PathBuf};

/// The steps in order. A step may use those before it.
const STEPS: &[&str] = &["record", "facts", "findings", "plan", "content", "document", "render"];

fn files(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let (folders, files): (Vec<PathBuf>, Vec<PathBuf>) = entries.partition(|path| path.is_dir());
    let rust = files.into_iter().filter(|path| path.extension().is_some_and(|end| end == "rs"));
    rust.chain(folders.iter().flat_map(|folder| self::files(folder))).collect()
}

fn source() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

#[test]
fn no_step_looks_back() {
    for (at, step) in STEPS.iter().enumerate() {
        for file in files(&source().join(step)) {
            let text = fs::read_to_string(&file).unwrap();
            // What puts the steps together, and the edge, come after all of them.
            for later in STEPS[at + 1..].iter().chain(&["packet", "practice", "plain", "proof", "cli"]) {
                for line in text.lines().filter(|line| line.contains(&format!("crate::{later}"))) {
                    assert!(line.trim().starts_with("//"), "{}: {step} looks at {later}: {line}", file.display());
                }
            }
        }
    }
}

#[test]
fn only_the_edge_touches_the_outside() {
    for file in files(&source()).iter().filter(|file| !file.starts_with(source().join("cli"))) {
        let text = fs::read_to_string(file).unwrap();
        for outside in ["std::fs", "std::env::var", "SystemTime", "std::net", "println!", "eprintln!", "Utc::now"] {
            assert!(!text.contains(outside), "{} uses {outside}", file.display());
        }
    }
}

#[test]
fn nothing_can_open_a_socket() {
    for file in files(&source()) {
        let text = fs::read_to_string(&file).unwrap();
        assert!(!text.contains("std::net") && !text.contains("TcpStream"), "{}", file.display());
    }
}
