//! `output-samples/` is what the program makes of its invented cases today.
//!
//! `UPDATE_SAMPLES=1 cargo test the_demo_practice` confirms the invented practice anew, `UPDATE_SAMPLES=1 cargo test
//! samples` then rewrites what is made and draws the previews with poppler's `pdftoppm`.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use sha2::{Digest, Sha256};
use vitreoleaf::assets::{Assets, samples};
use vitreoleaf::cli::args::Demo;
use vitreoleaf::cli::demo;

use crate::packets::{hash_in, practice_of};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("output-samples")
}

fn updating() -> bool {
    std::env::var_os("UPDATE_SAMPLES").is_some()
}

/// Every file the demo writes, by path.
fn made() -> BTreeMap<String, Vec<u8>> {
    let folder = tempfile::tempdir().unwrap();
    let status = demo::run(&Demo { out: folder.path().to_owned() });
    assert!(status.is_ok(), "{status:?}");
    read(folder.path(), folder.path())
}

fn read(top: &Path, folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut files = BTreeMap::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files.extend(read(top, &path));
        } else {
            let name = path.strip_prefix(top).unwrap().to_string_lossy().into_owned();
            files.insert(name, fs::read(&path).unwrap());
        }
    }
    files
}

fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// The demo practice confirms the clinical values as they stand: when one changes, somebody must read it again.
#[test]
fn the_demo_practice_is_confirmed() {
    let profile = samples()["practice/profile.toml"].clone();
    let current = practice_of(&profile, Assets::default()).clinical_hash();
    if updating() {
        let confirmed = profile.replace(hash_in(&profile), &current);
        fs::write(folder().join("practice/profile.toml"), confirmed).unwrap();
    } else {
        assert_eq!(
            hash_in(&profile),
            current,
            "read the change, then run UPDATE_SAMPLES=1 cargo test the_demo_practice"
        );
    }
}

#[test]
fn samples_are_current() {
    let made = made();
    if updating() {
        let profile = samples()["practice/profile.toml"].clone();
        let confirmed = practice_of(&profile, Assets::default()).clinical_hash() == hash_in(&profile);
        assert!(confirmed, "confirm the demo first: UPDATE_SAMPLES=1 cargo test the_demo_practice");
        write(&made);
    }
    for (name, bytes) in &made {
        let kept = fs::read(folder().join(name));
        let kept = kept.unwrap_or_else(|_| panic!("{name} is missing: UPDATE_SAMPLES=1 cargo test samples"));
        assert!(kept == *bytes, "{name} is not current: UPDATE_SAMPLES=1 cargo test samples");
    }
    let pages = |name: &&String| name.ends_with(".pdf") || name.ends_with(".ics") || name.ends_with(".json");
    let kept = read(&folder(), &folder());
    for name in kept.keys().filter(pages).filter(|name| *name != "previews.json") {
        assert!(made.contains_key(name), "{name} is no longer made: delete it");
    }
}

/// Every page has a preview, drawn from the page as it is: the hash beside the previews is that of the PDF.
#[test]
fn previews_are_current() {
    if updating() {
        return; // they are being drawn
    }
    let drawn: BTreeMap<String, Preview> =
        serde_json::from_slice(&fs::read(folder().join("previews.json")).expect("previews.json")).unwrap();
    for (name, bytes) in made().into_iter().filter(|(name, _)| name.ends_with(".pdf")) {
        let preview = drawn.get(&name).unwrap_or_else(|| panic!("{name} has no preview"));
        assert_eq!(preview.sha256, sha256(&bytes), "the preview of {name} is not current");
        assert!(!preview.pages.is_empty(), "{name}");
        for page in &preview.pages {
            let png = fs::read(folder().join(page)).unwrap_or_else(|_| panic!("{page} is missing"));
            assert!(png.starts_with(b"\x89PNG"), "{page} is no picture");
        }
    }
}

#[derive(serde::Serialize, serde::Deserialize)]
struct Preview {
    sha256: String,
    pages: Vec<String>,
}

fn write(made: &BTreeMap<String, Vec<u8>>) {
    for (name, _) in read(&folder(), &folder()) {
        if [".pdf", ".ics", ".json", ".png"].iter().any(|end| name.ends_with(end)) {
            fs::remove_file(folder().join(name)).unwrap();
        }
    }
    let mut previews = BTreeMap::new();
    // The records and the profile are ours to edit; only what is made of them is written.
    for (name, bytes) in made.iter().filter(|(name, _)| !name.ends_with(".toml")) {
        let path = folder().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, bytes).unwrap();
        if name.ends_with(".pdf") {
            previews.insert(name, Preview { sha256: sha256(bytes), pages: draw(name) });
        }
    }
    let text = serde_json::to_string_pretty(&previews).unwrap();
    fs::write(folder().join("previews.json"), text + "\n").unwrap();
}

/// Draws the pages of a PDF and returns their paths.
fn draw(name: &str) -> Vec<String> {
    let stem = name.trim_end_matches(".pdf");
    let (path, prefix) = (folder().join(name), folder().join(stem));
    let done = Command::new("pdftoppm").args(["-r", "56", "-png", "-gray"]).arg(path).arg(prefix).output();
    assert!(done.is_ok_and(|done| done.status.success()), "pdftoppm (poppler) is needed to draw previews");
    let pages = read(&folder(), &folder()).into_keys().filter(|page| page.ends_with(".png") && page.starts_with(stem));
    pages.collect()
}
