//! Every refusal and every warning has a case a person can read: `invalid/err_*` and `invalid/warn_*` with the report beside
//! it.
//!
//! `err_profile_*` is a practice profile (`err_profile_regimens*` with the drugs it names), the others are case records.
//! `UPDATE_EXPECTED=1 cargo test` rewrites the reports; read them in the diff.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use proptest::prelude::*;
use schemars::JsonSchema;
use serde::Serialize;
use serde::de::DeserializeOwned;
use vitreoleaf::assets::Assets;
use vitreoleaf::diag::{Report, SourceFile, emit};
use vitreoleaf::record::formulary::Formulary;
use vitreoleaf::record::load::{self, Loaded};
use vitreoleaf::record::profile::{FrontOfEye, Profile};
use vitreoleaf::record::{Record, check, form, locate};

const FRONT: FrontOfEye = FrontOfEye { none: 3.0, implant: 4.5, natural: 7.0 };

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/invalid")
}

fn name(path: &Path) -> String {
    path.file_name().expect("a file").to_string_lossy().into_owned()
}

/// The cases, sorted by name.
fn cases() -> Vec<PathBuf> {
    let is_case = |path: &PathBuf| {
        let is_named = ["err_", "warn_"].iter().any(|start| name(path).starts_with(start));
        is_named && path.extension().is_some_and(|ending| ending != "report")
    };
    let mut cases: Vec<_> =
        fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path()).filter(is_case).collect();
    cases.sort();
    cases
}

/// Everything that is wrong with a file, and its text as far as it is one.
fn report(name: &str, bytes: &[u8]) -> (Report, SourceFile) {
    match load::source(name, bytes) {
        Err(report) => (report, SourceFile { name: name.into(), text: String::new() }),
        Ok(file) if name.contains("profile") => (profile_report(&file), file),
        Ok(file) if name.contains("reference") => (references_report(&file), file),
        Ok(file) => (record_report(&file), file),
    }
}

/// Names that the practice of `valid_profile.toml` and the built-in formulary do not have.
fn references_report(file: &SourceFile) -> Report {
    let profile = SourceFile { name: "profile".into(), text: include_str!("invalid/valid_profile.toml").into() };
    let profile = load::load::<Profile>(&profile).expect("valid_profile.toml").value;
    let formulary = Formulary::load(&Assets::default()).expect("the formulary");
    match load::load::<Record>(file) {
        Ok(Loaded { value, spans, .. }) => check::references(&value, &profile, &formulary, &spans),
        Err(report) => report,
    }
}

fn record_report(file: &SourceFile) -> Report {
    match load::load::<Record>(file) {
        Ok(Loaded { value, spans, .. }) => check::record(&value, &spans, &FRONT),
        Err(report) => report,
    }
}

fn profile_report(file: &SourceFile) -> Report {
    match load::load::<Profile>(file) {
        Ok(Loaded { value, spans, .. }) => {
            let mut report = check::profile(&value, &spans);
            if file.name.contains("regimens") {
                let formulary = Formulary::load(&Assets::default()).expect("the formulary");
                report.append(check::regimens(&value, &formulary, &spans));
            }
            report
        }
        Err(report) => report,
    }
}

/// A record of `err_*` is refused, one of `warn_*` is read; what is said of it is what stands beside it.
#[test]
fn every_case_is_told_as_expected() {
    let update = std::env::var_os("UPDATE_EXPECTED").is_some();
    let mut differing = Vec::new();
    for path in cases() {
        let (report, file) = report(&name(&path), &fs::read(&path).unwrap());
        let text = emit::human(&report, &file, emit::Colour::Never);
        let beside = path.with_extension("report");
        if update {
            fs::write(&beside, &text).unwrap();
        }
        let is_refused = name(&path).starts_with("err_");
        if report.is_empty()
            || report.has_errors() != is_refused
            || fs::read_to_string(&beside).unwrap_or_default() != text
        {
            differing.push(format!("{}\n{text}", name(&path)));
        }
    }
    assert!(differing.is_empty(), "not told as expected:\n\n{}", differing.join("\n"));
}

#[test]
fn every_report_belongs_to_a_case_and_every_name_is_told_apart() {
    let mut stems: Vec<_> = cases().iter().map(|path| path.file_stem().unwrap().to_owned()).collect();
    let reports: Vec<_> = fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "report"))
        .collect();
    assert!(
        reports.iter().all(|path| stems.contains(&path.file_stem().unwrap().to_owned())),
        "a report without a case"
    );
    let count = stems.len();
    stems.dedup();
    assert_eq!(count, stems.len(), "a TOML and a JSON case share one report");
    assert!(count >= 35, "cases were lost: {count}");
}

/// Refusals without a case: a file too large to keep, a list too long to keep, and one that nothing causes.
const WITHOUT_CASE: [&str; 3] = ["too-large", "more", "unreadable"];

/// The codes given to `Diagnostic::error`, `refuse` and `warn` in a source text.
fn codes_in(source: &str) -> Vec<String> {
    let calls =
        ["Diagnostic::error(", ".refuse(", ".warn(", "code: "].into_iter().flat_map(|call| source.split(call).skip(1));
    let code =
        |call: &str| call.trim_start().strip_prefix('"').and_then(|call| call.split('"').next()).map(str::to_owned);
    calls.filter_map(code).collect()
}

#[test]
fn every_code_has_a_case() {
    let mut sources = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src/record")];
    let mut codes = Vec::new();
    while let Some(path) = sources.pop() {
        if path.is_dir() {
            sources.extend(fs::read_dir(path).unwrap().map(|entry| entry.unwrap().path()));
        } else {
            codes.extend(codes_in(&fs::read_to_string(path).unwrap()));
        }
    }
    let reports: String =
        cases().iter().map(|path| fs::read_to_string(path.with_extension("report")).unwrap()).collect();
    let has_case = |code: &String| reports.contains(&format!("[{code}]: "));
    codes.retain(|code| !has_case(code) && !WITHOUT_CASE.contains(&code.as_str()));
    assert_eq!(codes, Vec::<String>::new(), "codes without a case in tests/invalid");
    assert!(codes_in(include_str!("../src/record/load/refuse.rs")).len() > 5, "codes are no longer found");
}

#[test]
fn every_refusal_says_where_and_what_to_do() {
    for path in cases() {
        let (report, file) = report(&name(&path), &fs::read(&path).unwrap());
        for wrong in report.sorted() {
            assert!(wrong.help.as_ref().is_some_and(|help| !help.is_empty()), "{}: {}", name(&path), wrong.message);
            let first = wrong.message.chars().next().unwrap();
            assert!(!first.is_uppercase(), "{}: {}", name(&path), wrong.message);
            assert!(!wrong.labels.is_empty() || file.text.is_empty(), "{}: {}", name(&path), wrong.message);
            assert_ne!(wrong.code, "unreadable", "{}", name(&path));
        }
    }
}

/// A form shows an error beside its field: the pointer leads to the place that line and column name. Of a line that is no
/// TOML it leads to the key the line begins with, or to the table it stands in.
#[test]
fn every_pointer_leads_to_its_place() {
    for path in cases() {
        let (report, file) = report(&name(&path), &fs::read(&path).unwrap());
        let (tree, unread) = locate::read(&file);
        for wrong in report.sorted().into_iter().filter(|wrong| !wrong.labels.is_empty()) {
            let told = format!("{}: {} {:?}", name(&path), wrong.message, wrong.pointer);
            let pointer = wrong.pointer.as_deref().unwrap_or_else(|| panic!("{told}"));
            let spans = [tree.spans.value(pointer), tree.spans.key(pointer), tree.spans.head(pointer)];
            let place = &wrong.labels[0].span;
            let is_torn = unread.sorted().contains(&wrong) && !spans.contains(place);
            let key = pointer.rsplit('/').next().unwrap();
            let line = &file.text[..place.end.min(file.text.len())];
            assert!(if is_torn { line.contains(key) } else { spans.contains(place) }, "{told}");
        }
    }
}

/// What tells who the patient is, and free text, is neither quoted by a message nor left in a line that is shown.
#[test]
fn nothing_private_is_told() {
    let form = form::describe::<Record>();
    let private: BTreeSet<&str> = form.keys.iter().filter(|key| key.private).map(|key| key.pointer.as_str()).collect();
    for path in cases().into_iter().filter(|path| !name(path).contains("profile")) {
        let (report, file) = report(&name(&path), &fs::read(&path).unwrap());
        let shown = load::masked::<Record>(&file);
        let told = emit::human(&report, &shown, emit::Colour::Never);
        let (tree, _) = locate::read(&file);
        let mut values = Vec::new();
        texts(&private, "", &tree.value, &mut values);
        for value in values {
            assert!(!told.contains(&value) && !shown.text.contains(&value), "{}: {value}\n{told}", name(&path));
        }
        let places = |file| emit::items(&report, file).into_iter().map(|item| (item.line, item.column));
        assert!(places(&file).eq(places(&shown)), "{}: a place moved", name(&path));
    }
}

/// The private texts of a record that are long enough to be told from other words.
fn texts(private: &BTreeSet<&str>, pattern: &str, value: &serde_json::Value, found: &mut Vec<String>) {
    match value {
        serde_json::Value::Object(table) => {
            table.iter().for_each(|(key, value)| texts(private, &format!("{pattern}/{key}"), value, found));
        }
        serde_json::Value::Array(entries) => {
            entries.iter().for_each(|value| texts(private, &format!("{pattern}/*"), value, found));
        }
        serde_json::Value::String(text) if private.contains(pattern) && text.len() > 4 && text != "unknown" => {
            found.push(text.clone())
        }
        _ => {}
    }
}

#[test]
fn data_for_programs_says_the_same() {
    let (report, file) = report("err_many.toml", &fs::read(folder().join("err_many.toml")).unwrap());
    let items = emit::items(&report, &file);
    assert_eq!(items.len(), report.len());
    let side = items.iter().find(|item| item.message.contains("`side`")).expect("the wrong side is reported");
    let line = file.text.lines().position(|line| line.starts_with("side")).unwrap() + 1;
    assert_eq!((side.line, side.column, side.code), (Some(line), Some(8), "wrong-word"));
    let json = serde_json::to_value(side).unwrap();
    assert_eq!((json["file"].as_str(), json["severity"].as_str()), (Some("err_many.toml"), Some("error")));
    assert!(items.is_sorted_by_key(|item| (item.line, item.column)));
}

fn valid(name: &str) -> Vec<u8> {
    fs::read(folder().join(name)).unwrap()
}

/// A whole file is read and says nothing; written as JSON and read again it is the same.
fn reads_back<T: DeserializeOwned + Serialize + JsonSchema>(name: &str, check: impl Fn(&SourceFile) -> Report) {
    let file = load::source(name, &valid(name)).unwrap();
    let said = emit::human(&check(&file), &file, emit::Colour::Never);
    assert!(said.is_empty(), "{said}");
    let value = load::load::<T>(&file).unwrap().value;
    let text = serde_json::to_string_pretty(&value).unwrap();
    let json = SourceFile { name: name.replace("toml", "json"), text };
    let again =
        load::load::<T>(&json).map_err(|report| emit::human(&report, &json, emit::Colour::Never)).unwrap().value;
    assert_eq!(serde_json::to_value(&value).unwrap(), serde_json::to_value(&again).unwrap());
}

#[test]
fn valid_files_are_read_in_both_notations() {
    reads_back::<Record>("valid_record.toml", record_report);
    reads_back::<Profile>("valid_profile.toml", profile_report);
}

/// Whatever the bytes are, they are read or refused, and the report can be shown.
fn never_panics(name: &str, bytes: &[u8]) -> Result<(), TestCaseError> {
    let (report, file) = report(name, bytes);
    for colour in [emit::Colour::Never, emit::Colour::Always] {
        prop_assert_eq!(emit::human(&report, &file, colour).is_empty(), report.is_empty());
    }
    prop_assert_eq!(emit::items(&report, &file).len(), report.len());
    prop_assert!(report.sorted().iter().all(|wrong| wrong.code != "unreadable"), "{:?}", report);
    Ok(())
}

/// Pieces that break the form of what they replace.
const PIECES: [&str; 24] = [
    "\"unknown\"",
    "\"\"",
    "\"24 mm\"",
    "-1",
    "1.0",
    "1e308",
    "99999999999",
    "nan",
    "true",
    "[]",
    "{}",
    "[[",
    "]",
    "=",
    ".",
    "\"",
    "'''",
    "\n[eye]\n",
    "2026-02-30",
    "2026-08-07T10:30:60",
    "07:30",
    "\u{202E}",
    "\\u0007",
    "\u{10FFFF}",
];

/// A valid file with a few parts cut out and other pieces put in.
fn spoiled(name: &'static str) -> impl Strategy<Value = Vec<u8>> {
    let edit = (any::<prop::sample::Index>(), 0usize..24, prop::sample::select(&PIECES[..]));
    prop::collection::vec(edit, 1..5).prop_map(move |edits| {
        let mut text = valid(name);
        for (at, length, piece) in edits {
            let start = at.index(text.len() + 1);
            let end = (start + length).min(text.len());
            text.splice(start..end, piece.bytes());
        }
        text
    })
}

/// A valid file in which one value is exchanged for a piece: the form is kept, the meaning is not.
fn exchanged(name: &'static str) -> impl Strategy<Value = Vec<u8>> {
    (any::<prop::sample::Index>(), prop::sample::select(&PIECES[..])).prop_map(move |(at, piece)| {
        let text = String::from_utf8(valid(name)).unwrap();
        let mut lines: Vec<_> = text.lines().map(str::to_owned).collect();
        let with_value: Vec<_> = (0..lines.len()).filter(|line| lines[*line].contains(" = ")).collect();
        let line = &mut lines[*at.get(&with_value)];
        let key = line.split(" = ").next().unwrap_or_default().to_owned();
        *line = format!("{key} = {piece}");
        lines.join("\n").into_bytes()
    })
}

/// The deepest text that reaches the parser; deeper ones are refused before.
#[test]
fn the_deepest_text_is_refused() {
    let key = vec!["a"; 64].join(".");
    let text = format!("[{key}]\n{key} = 1{}", format!("{key} = {{\n").repeat(79) + &"\n}".repeat(79));
    let text = text.replace("= 1a", "= 1\na");
    never_panics("a.toml", text.as_bytes()).unwrap();
    let (report, _) = report("a.toml", text.as_bytes());
    assert!(report.has_errors());
}

fn config() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn any_bytes(bytes in prop::collection::vec(any::<u8>(), 0..400), json in any::<bool>()) {
        never_panics(if json { "a.json" } else { "a.toml" }, &bytes)?;
    }

    #[test]
    fn any_text(text in "\\PC{0,200}|[\\[\\]{}=.,:'\"\\\\#a-c0-9 \\n\\r\\t-]{0,200}", json in any::<bool>()) {
        never_panics(if json { "a.json" } else { "a.toml" }, text.as_bytes())?;
    }

    #[test]
    fn spoiled_records(bytes in spoiled("valid_record.toml")) {
        never_panics("a.toml", &bytes)?;
    }

    #[test]
    fn spoiled_profiles(bytes in spoiled("valid_profile.toml")) {
        never_panics("profile.toml", &bytes)?;
    }

    #[test]
    fn exchanged_values(record in exchanged("valid_record.toml"), profile in exchanged("valid_profile.toml")) {
        never_panics("a.toml", &record)?;
        never_panics("profile.toml", &profile)?;
    }

    #[test]
    fn deep_texts(parts in 1usize..64, levels in 1usize..80) {
        let key = vec!["a"; parts].join(".");
        let toml = format!("{}{key} = 1{}", format!("{key} = {{ ").repeat(levels), " }".repeat(levels));
        never_panics("a.toml", toml.as_bytes())?;
        never_panics("a.json", "[".repeat(levels * parts).as_bytes())?;
        never_panics("a.json", "{\"a\":".repeat(levels * parts).as_bytes())?;
    }
}
