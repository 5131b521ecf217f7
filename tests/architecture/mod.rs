//! The picture of the steps holds: no step looks back, no file of a folder stands in a circle with another, only the edge
//! touches files, sockets, streams and the clock, and every error has a type.

mod errors;
mod imports;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use imports::Imports;

/// The steps in order. A step may use those before it.
const STEPS: &[&str] = &["record", "facts", "findings", "plan", "content", "document", "render"];

/// What puts the steps together, and the edge, come after all of them.
const AFTER: &[&str] = &[
    "files", "practice", "packet", "plain", "proof", "review", "batch", "demo", "results", "exchange", "register",
    "verify", "desk", "cli",
];

/// Paths that reach outside, each with the only rooms that may name it.
const OUTSIDE: &[(&[&str], &[&str])] = &[
    (&["std::fs", "tempfile"], &["files"]),
    (&["std::env::var", "std::env::var_os", "std::env::vars", "std::time::SystemTime", "std::process::exit"], &["cli"]),
    (&["print!", "println!", "eprint!", "eprintln!", "chrono::Utc::now", "chrono::Local::now"], &["cli"]),
    (&["std::net", "std::os::unix::net"], &["desk", "register"]),
    (&["tokio", "hyper", "axum"], &["desk"]),
    (&["postgres", "rustls", "rustls_native_certs", "tokio_postgres_rustls"], &["register"]),
    (&["std::*", "std::env::*", "std::os::unix::*"], &[]),
];

/// One file of `src`.
struct File {
    /// Where it stands, for example `["crate", "plan", "usage"]`; a `mod.rs` stands for its folder.
    module: Vec<String>,
    /// Whether it is the face of a folder: `mod.rs`, `lib.rs` or `main.rs`.
    face: bool,
    imports: Imports,
}

impl File {
    fn new(path: &Path, source: &Path) -> Self {
        let place = path.strip_prefix(source).expect("a file of the source").with_extension("");
        let names = place.iter().map(|name| name.to_string_lossy().into_owned());
        let mut module: Vec<String> = std::iter::once("crate".to_owned()).chain(names).collect();
        let face = matches!(module.last().map(String::as_str), Some("mod" | "lib" | "main"));
        if face {
            module.pop();
        }
        let names: Vec<&str> = module.iter().map(String::as_str).collect();
        let imports = imports::read(&fs::read_to_string(path).unwrap(), &names);
        Self { module, face, imports }
    }

    /// The room of the house it stands in: the first folder or file below `src`.
    fn room(&self) -> &str {
        self.module.get(1).map_or("", String::as_str)
    }

    fn names(&self, path: &str) -> bool {
        self.imports.paths.iter().any(|found| begins(&found.join("::"), path))
    }
}

/// Whether a path is another or leads below it.
fn begins(path: &str, start: &str) -> bool {
    path.strip_prefix(start).is_some_and(|rest| rest.is_empty() || rest.starts_with("::"))
}

fn rust(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    let (folders, files): (Vec<PathBuf>, Vec<PathBuf>) = entries.partition(|path| path.is_dir());
    let rust = files.into_iter().filter(|path| path.extension().is_some_and(|end| end == "rs"));
    rust.chain(folders.iter().flat_map(|folder| self::rust(folder))).collect()
}

fn source() -> Vec<File> {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    rust(&source).iter().map(|path| File::new(path, &source)).collect()
}

#[test]
fn no_step_looks_back() {
    let files = source();
    for (at, step) in STEPS.iter().enumerate() {
        for file in files.iter().filter(|file| file.room() == *step) {
            for later in STEPS[at + 1..].iter().chain(AFTER) {
                assert!(!file.names(&format!("crate::{later}")), "{} looks at {later}", file.module.join("::"));
            }
        }
    }
}

#[test]
fn only_the_edge_touches_the_outside() {
    for file in source() {
        for (paths, rooms) in OUTSIDE.iter().filter(|(_, rooms)| !rooms.contains(&file.room())) {
            let named = paths.iter().find(|path| file.names(path));
            assert_eq!(named, None, "{}: only {rooms:?} may use this", file.module.join("::"));
        }
    }
}

#[test]
fn no_files_of_a_folder_stand_in_a_circle() {
    let files = source();
    let folders: BTreeSet<&[String]> = files.iter().map(parent).collect();
    let circles = folders.into_iter().filter_map(|folder| Some((folder, circle(&uses(&files, folder))?)));
    let circles: Vec<String> =
        circles.map(|(folder, circle)| format!("{}: {}", folder.join("::"), circle.join(", "))).collect();
    assert!(circles.is_empty(), "these use each other, or what uses each other:\n{}", circles.join("\n"));
}

fn parent(file: &File) -> &[String] {
    if file.face { &file.module } else { &file.module[..file.module.len() - 1] }
}

/// Which entries of a folder use which others. The face of the folder is none of them: what it hands on counts for the file
/// it comes from.
fn uses<'a>(files: &'a [File], folder: &[String]) -> BTreeMap<&'a str, BTreeSet<&'a str>> {
    let below = |file: &&File| file.module.len() > folder.len() && file.module.starts_with(folder);
    let mut uses: BTreeMap<&str, BTreeSet<&str>> =
        files.iter().filter(below).map(|file| (file.module[folder.len()].as_str(), BTreeSet::new())).collect();
    let entries: BTreeSet<&str> = uses.keys().copied().collect();
    let face = files.iter().filter(|file| file.face && file.module == folder);
    let handed_on: BTreeMap<&str, &str> = face
        .flat_map(|face| &face.imports.handed_on)
        .filter_map(|(name, path)| Some((name.as_str(), *entries.get(entry(path, folder)?)?)))
        .collect();
    for file in files.iter().filter(below) {
        let own = file.module[folder.len()].as_str();
        let named = file.imports.paths.iter().filter_map(|path| entry(path, folder));
        let named = named.filter_map(|name| entries.get(name).or_else(|| handed_on.get(name)));
        uses.get_mut(own).expect("listed above").extend(named.copied().filter(|name| *name != own));
    }
    uses
}

/// The entry of a folder that a path leads to.
fn entry<'a>(path: &'a [String], folder: &[String]) -> Option<&'a str> {
    path.starts_with(folder).then(|| path.get(folder.len()).map(String::as_str)).flatten()
}

/// Entries that use each other in a circle, if there are any.
fn circle<'a>(uses: &BTreeMap<&'a str, BTreeSet<&'a str>>) -> Option<Vec<&'a str>> {
    let mut left = uses.clone();
    // Whoever uses nothing that is left stands in no circle.
    while let Some(free) = left.iter().find(|(_, used)| used.is_empty()).map(|(name, _)| *name) {
        left.remove(free);
        left.values_mut().for_each(|used| _ = used.remove(free));
    }
    (!left.is_empty()).then(|| left.into_keys().collect())
}

#[test]
fn no_error_is_a_string() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let strings = |path: &PathBuf| errors::strings(&fs::read_to_string(path).unwrap()) > 0;
    assert_eq!(rust(&source).into_iter().filter(strings).collect::<Vec<_>>(), Vec::<PathBuf>::new());
}

/// A violation that is planted is found.
mod planted {
    use super::*;

    fn file(module: &[&str], text: &str) -> File {
        let module: Vec<String> = module.iter().map(|name| (*name).to_owned()).collect();
        let names: Vec<&str> = module.iter().map(String::as_str).collect();
        File { face: false, imports: imports::read(text, &names), module: module.clone() }
    }

    #[test]
    fn a_look_back_is_found_in_a_group() {
        let file = file(&["crate", "facts", "eye"], "use crate::{record::Record, document::{Block, Page}};");
        assert!(file.names("crate::document") && !file.names("crate::doc") && !file.names("crate::plan"));
    }

    #[test]
    fn a_file_read_behind_the_edge_is_found() {
        let file = file(&["crate", "facts", "eye"], "fn f() { let _ = ::std::fs::read(\"x\"); }");
        assert!(file.names("std::fs") && !file.names("std::net"));
    }

    #[test]
    fn a_circle_is_found_through_what_the_folder_hands_on() {
        let mut face =
            file(&["crate", "record"], "mod drug;\nmod selector;\npub use drug::Drug;\npub use selector::Selector;");
        face.face = true;
        let drug = file(&["crate", "record", "drug"], "use super::Selector;");
        let selector = file(&["crate", "record", "selector"], "fn f(of: &super::drug::Drug) {}");
        let files = [face, drug, selector];
        assert_eq!(circle(&uses(&files, &files[0].module)), Some(vec!["drug", "selector"]));
        assert_eq!(circle(&uses(&files[..2], &files[0].module)), None);
    }
}
