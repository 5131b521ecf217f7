//! `output-samples/` is what the program makes of its invented cases today: two cases whole, of the others a list of files
//! with their hashes and the words of their pages, so that a change can be read.
//!
//! `UPDATE_SAMPLES=1 cargo test the_demo_practice` confirms the invented practice anew, `UPDATE_SAMPLES=1 cargo test
//! samples` then rewrites what is made and draws the previews with poppler's `pdftoppm`.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::LazyLock;

use regex::Regex;
use sha2::{Digest, Sha256};
use vitreoleaf::assets::{Assets, samples};
use vitreoleaf::demo;
use vitreoleaf::diag::SourceFile;
use vitreoleaf::document::sheet::document_id;
use vitreoleaf::document::{Block, Document, Inline, Page};
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::{Case, File, Form, Output, suitability};
use vitreoleaf::practice::{Draft, Practice};
use vitreoleaf::render::pdf::Stamp;

use crate::both_eyes::join_all;
use crate::demo::{FILES, files_under};
use crate::packets::{checked, hash_in, practice, practice_of, record};
use crate::papers::beginning_before;

/// Cases of which every file is kept: one of which everything prints, one that is held back.
const WHOLE: [&str; 2] = ["ring-implant", "young-detachment"];

/// Pages with a preview: the PDF without its ending, and the page.
const PREVIEWS: [(&str, u8); 6] = [
    ("ring-implant/EX-01-r1-before-consent", 1),
    ("ring-implant/EX-01-r1-before-consent", 4),
    ("ring-implant/EX-01-r1-before-surgeon", 1),
    ("ring-implant/EX-01-r1-after-aftercare", 1),
    ("ring-implant/EX-01-r1-after-aftercare", 2),
    ("young-detachment/EX-04-r1-before-desk", 1),
];

/// Pictures of the desk, drawn by `tests/outside/pictures.py`.
const SCREENS: &str = "desk/";

/// Which PDF each preview was drawn from.
const DRAWN: &str = "previews.txt";

/// The list of a case.
const LIST: &str = "pages.txt";

/// Stands for the version of the texts, which any change of any clinical file changes: with the version itself a change
/// of one word would change every consent that is kept here.
const VERSION: &str = "00000000";

const HEAD: &str = "What `vitreoleaf demo` makes of this case: SHA-256 of each file, words of each page. The version of the \
                    texts is written 00000000.\n";

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("output-samples")
}

/// Papers that stand in the lists alone, with hash and words, lest the samples weigh too much.
const LISTED: [&str; 5] = ["-note.pdf", "-letter.pdf", "-outcome.pdf", "-withdrawal.pdf", "-after-desk.pdf"];

fn updating() -> bool {
    std::env::var_os("UPDATE_SAMPLES").is_some()
}

fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// What is kept of the demo, by path: the records and the practice, the list of each case, and two cases whole.
static KEPT: LazyLock<BTreeMap<String, Vec<u8>>> = LazyLock::new(|| {
    let mut files = FILES.clone();
    let texts = pinned(&mut files);
    for (_, bytes) in files.iter_mut().filter(|(path, _)| path.ends_with(".json")) {
        *bytes = without_hashes(bytes);
    }
    let lists = lists(&files, &texts);
    let whole =
        |path: &str| WHOLE.iter().any(|case| path.starts_with(case)) && !LISTED.iter().any(|end| path.ends_with(end));
    files.retain(|path, _| path.ends_with(".toml") || whole(path));
    files.extend(lists);
    files.extend(further());
    files
});

/// Papers that `demo` does not make, since no invented case calls for them: the suitability sheet of a first visit, and the drops of
/// a regimen that begins two days before the laser.
fn further() -> [(String, Vec<u8>); 2] {
    let practice = demo::practice(&samples()).unwrap();
    let text = samples()["young-detachment/case.toml"].clone();
    let draft = Draft::read(&SourceFile { name: "case.toml".into(), text }, &practice).unwrap();
    let visit = "2026-07-01T14:00:00".parse().unwrap();
    let (sheet, bytes) = suitability::file(&draft, Form::Pdf, visit).unwrap();
    let record = checked(&beginning_before(), &record("ring-implant", |text| text));
    let case = Case::new(&record, Moment::Before).unwrap();
    let drops = [Output::Page(Page::DropsBefore, Form::Pdf)];
    let drops = case.packet_of(&[Form::Pdf], &drops, demo::issued(&record, Moment::Before)).unwrap().files.remove(0);
    [(format!("young-detachment/{sheet}"), bytes), (format!("ring-implant/{}", drops.name), drops.bytes)]
}

/// The words of each page by the path of its PDF. Pages that name the version of the texts are laid out anew with [`VERSION`]
/// in its place.
fn pinned(files: &mut BTreeMap<String, Vec<u8>>) -> BTreeMap<String, String> {
    let practice = demo::practice(&samples()).unwrap();
    let version = practice.profile.confirmation.clone().expect("the demo is confirmed");
    let records = demo::records(&practice, &samples()).unwrap();
    let (mut names, mut cases) = (Vec::new(), Vec::new());
    for (name, record) in &records {
        for moment in demo::moments(record) {
            names.push(name.as_str());
            cases.push(Case::new(record, moment).unwrap());
        }
    }
    let issued = |case: &Case| demo::issued(case.record(), case.moment());
    let mut texts = BTreeMap::new();
    for (at, file) in join_all(&mut cases, Form::Text).unwrap() {
        texts.insert(path_of_pdf(names[at], &file), text_of(&file));
    }
    for (name, case) in names.iter().zip(&cases) {
        let papers = case.papers_as(&[Form::Text]);
        let papers = papers.iter().flat_map(|one| case.packet_of(&[Form::Text], &[*one], issued(case)).unwrap().files);
        texts.extend(papers.map(|file| (path_of_pdf(name, &file), text_of(&file))));
        let made = case.packet_as(&[Form::Text], issued(case)).unwrap().files;
        for (mut document, file) in case.documents(issued(case)).unwrap().into_iter().zip(&made) {
            let path = path_of_pdf(name, file);
            texts.insert(path.clone(), text_of(file).replace(version.version(), VERSION));
            if pin(&mut document, version.version()) {
                let id = document_id(case.record(), case.moment(), document.page);
                let ident = format!("{id} {} {}", case.record().case.revision, document.language);
                let bytes = practice.typesetter().pdf(&document, &Stamp { ident, issued: issued(case) });
                assert!(files.insert(path.clone(), bytes.unwrap()).is_some(), "the demo makes no {path}");
            }
        }
    }
    texts
}

fn path_of_pdf(folder: &str, text: &File) -> String {
    format!("{folder}/{}.pdf", text.name.trim_end_matches(".txt"))
}

fn text_of(file: &File) -> String {
    String::from_utf8(file.bytes.clone()).unwrap()
}

/// Puts [`VERSION`] in the place of the version of the texts; whether it stood there.
fn pin(document: &mut Document, version: &str) -> bool {
    let pairs = document.blocks.iter_mut().filter_map(|block| match block {
        Block::Pairs { items } => Some(items),
        _ => None,
    });
    let mut named = false;
    for inline in pairs.flatten().flat_map(|pair| &mut pair.value) {
        if let Inline::Text(text) = inline
            && text.contains(version)
        {
            *text = text.replace(version, VERSION);
            named = true;
        }
    }
    named
}

/// A packet without the hashes in it, which follow other files.
fn without_hashes(packet: &[u8]) -> Vec<u8> {
    let hash = Regex::new("\"[0-9a-f]{64}\"").unwrap();
    hash.replace_all(std::str::from_utf8(packet).unwrap(), "\"-\"").into_owned().into_bytes()
}

/// The list of each case: its files with their hashes, its pages with their words.
fn lists(files: &BTreeMap<String, Vec<u8>>, texts: &BTreeMap<String, String>) -> BTreeMap<String, Vec<u8>> {
    let mut lists = BTreeMap::new();
    for (path, bytes) in files.iter().filter(|(path, _)| !path.ends_with(".toml")) {
        let (case, name) = path.split_once('/').unwrap();
        let list = lists.entry(format!("{case}/{LIST}")).or_insert_with(|| HEAD.to_owned());
        write!(list, "\n=== {name}\n{}\n", sha256(bytes)).unwrap();
        if path.ends_with(".pdf") {
            list.push_str(&format!("\n{}", texts.get(path).unwrap_or_else(|| panic!("{path} has no words"))));
        }
    }
    lists.into_iter().map(|(path, list)| (path, list.into_bytes())).collect()
}

/// The demo practice confirms the clinical values as they stand: when one changes, somebody must read it again.
#[test]
fn the_demo_practice_is_confirmed() {
    let profile = samples()["practice/profile.toml"].clone();
    let practice = practice_of(&profile, Assets::default());
    let current = practice.clinical_hash();
    if updating() {
        let confirmed = profile.replace(hash_in(&profile), current);
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
    if updating() {
        let profile = samples()["practice/profile.toml"].clone();
        let confirmed = practice_of(&profile, Assets::default()).clinical_hash() == hash_in(&profile);
        assert!(confirmed, "confirm the demo first: UPDATE_SAMPLES=1 cargo test the_demo_practice");
        write();
    }
    let mut there = files_under(&folder());
    for (path, bytes) in KEPT.iter() {
        let there = there.remove(path);
        let there = there.unwrap_or_else(|| panic!("{path} is missing: UPDATE_SAMPLES=1 cargo test samples"));
        assert!(
            there == *bytes,
            "{path} is not current: UPDATE_SAMPLES=1 cargo test samples{}",
            difference(&there, bytes)
        );
    }
    there.retain(|path, _| !path.ends_with(".md") && !path.starts_with(SCREENS) && path != DRAWN);
    there.retain(|path, _| !previews().contains(path));
    assert!(there.is_empty(), "no longer made, delete: {:?}", there.keys());
}

/// The first line that differs between two texts, or nothing.
fn difference(kept: &[u8], made: &[u8]) -> String {
    let (Ok(kept), Ok(made)) = (std::str::from_utf8(kept), std::str::from_utf8(made)) else { return String::new() };
    let differs = kept.lines().zip(made.lines()).find(|(kept, made)| kept != made && !is_hash(kept));
    differs.map(|(kept, made)| format!("\nkept: {kept}\nmade: {made}")).unwrap_or_default()
}

fn is_hash(line: &str) -> bool {
    line.len() == 64 && line.chars().all(|character| character.is_ascii_hexdigit())
}

/// Every preview was drawn from the page as it is: the hash in the list of previews is that of the PDF.
#[test]
fn previews_are_current() {
    if updating() {
        return; // they are being drawn
    }
    assert_eq!(fs::read_to_string(folder().join(DRAWN)).unwrap(), drawn(), "UPDATE_SAMPLES=1 cargo test samples");
    for path in previews() {
        let picture = fs::read(folder().join(&path)).unwrap_or_else(|_| panic!("{path} is missing"));
        assert!(picture.starts_with(b"\x89PNG"), "{path} is no picture");
    }
}

/// What is kept of a practice's cases, before layout: pages with the version of the texts pinned, data without hashes.
fn kept_of(practice: &Practice) -> Vec<String> {
    let version = practice.profile.confirmation.clone().expect("confirmed");
    let mut kept = Vec::new();
    for (name, record) in demo::records(practice, &samples()).unwrap() {
        for moment in demo::moments(&record) {
            let (case, issued) = (Case::new(&record, moment).unwrap(), demo::issued(&record, moment));
            for mut document in case.documents(issued).unwrap() {
                pin(&mut document, version.version());
                kept.push(format!("{name}: {}", serde_json::to_string_pretty(&document).unwrap()));
            }
            let files = case.packet_of(&[Form::Text], &[Output::Data], issued).unwrap().files;
            kept.extend(files.iter().map(|file| String::from_utf8(without_hashes(&file.bytes)).unwrap()));
        }
    }
    kept
}

/// A change of a clinical file of which no page speaks touches one line of what is kept: the hash that confirms the files.
#[test]
fn an_unrelated_clinical_change_touches_one_line() {
    let same = |profile: String| profile;
    let formulary = "templates/formulary.toml";
    let read_again = format!("{}\n# Read again.\n", Assets::default().get(formulary).unwrap());
    let own = BTreeMap::from([(formulary.to_owned(), read_again)]);
    let [before, after] = [BTreeMap::new(), own].map(|own| practice(same, own));
    let profile = samples()["practice/profile.toml"].clone();
    let confirmed = [&before, &after].map(|practice| profile.replace(hash_in(&profile), practice.clinical_hash()));
    let lines = confirmed[0].lines().zip(confirmed[1].lines());
    assert_eq!(lines.filter(|(before, after)| before != after).count(), 1, "the hash of the profile");
    let (before, after) = (kept_of(&before), kept_of(&after));
    let differing = before.iter().zip(&after).find(|(before, after)| before != after);
    assert!(differing.is_none() && before.len() == after.len(), "{differing:?}");
}

/// A change of every page must stay light to carry: what is kept adds less than this to the history.
#[test]
fn samples_are_light() {
    if updating() {
        return; // they are being written
    }
    let text = |path: &str| [".txt", ".toml", ".md", ".ics", ".json"].iter().any(|end| path.ends_with(end));
    let files = files_under(&folder());
    // Git keeps text at about a quarter of its size.
    let bytes: usize = files.iter().map(|(path, file)| if text(path) { file.len() / 4 } else { file.len() }).sum();
    assert!(bytes < 1_500_000, "{bytes} bytes in output-samples");
}

fn previews() -> Vec<String> {
    PREVIEWS.iter().map(|(stem, page)| format!("{stem}-{page}.png")).collect()
}

/// Each preview with the hash of the PDF it shows.
fn drawn() -> String {
    let lines = PREVIEWS.iter().zip(previews());
    lines.map(|((stem, _), path)| format!("{} {path}\n", sha256(&KEPT[&format!("{stem}.pdf")]))).collect()
}

/// Writes what is kept, except for the records and the practice: those are ours to edit.
fn write() {
    let stays = |path: &str| path.ends_with(".toml") || path.ends_with(".md") || path.starts_with(SCREENS);
    for path in files_under(&folder()).keys().filter(|path| !stays(path)) {
        fs::remove_file(folder().join(path)).unwrap();
    }
    for (path, bytes) in KEPT.iter().filter(|(path, _)| !path.ends_with(".toml")) {
        fs::create_dir_all(folder().join(path).parent().unwrap()).unwrap();
        fs::write(folder().join(path), bytes).unwrap();
    }
    PREVIEWS.iter().for_each(|(stem, page)| draw(stem, *page));
    fs::write(folder().join(DRAWN), drawn()).unwrap();
}

/// Draws a page of a PDF.
fn draw(stem: &str, page: u8) {
    let page = page.to_string();
    let (path, preview) = (folder().join(format!("{stem}.pdf")), folder().join(format!("{stem}-{page}")));
    let mut draw = Command::new("pdftoppm");
    draw.args(["-r", "50", "-png", "-gray", "-singlefile", "-f", &page, "-l", &page]).arg(path).arg(preview);
    assert!(draw.output().is_ok_and(|done| done.status.success()), "pdftoppm (poppler) is needed to draw previews");
}
