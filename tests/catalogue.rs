//! The files a clinic edits: every name is known, every number has a home, nothing is lost.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use vitreoleaf::assets::Assets;
use vitreoleaf::content::Library;
use vitreoleaf::record::formulary::Formulary;

fn library() -> Library {
    Library::load(&Assets::default(), "en-US").unwrap()
}

fn text(id: &str) -> String {
    let path = format!("locales/en-US/statements/{id}.md");
    Assets::default().get(&path).unwrap_or_else(|| panic!("{path} is missing")).into_owned()
}

/// A literal number in a risk text is a test failure: numbers come from the evidence or from a fact.
#[test]
fn no_number_is_typed_into_a_text() {
    for statement in library().statements {
        let text = text(&statement.row.id);
        // What stands between braces is code: names of evidence and of facts.
        let said = text.split('{').map(|part| part.rsplit('}').next().unwrap_or(part)).collect::<String>();
        assert!(!said.contains(|c: char| c.is_ascii_digit()), "{}: {said}", statement.row.id);
    }
}

#[test]
fn every_text_belongs_to_a_statement() {
    let ids: BTreeSet<String> = library().statements.into_iter().map(|statement| statement.row.id).collect();
    for path in Assets::default().under("locales/en-US/statements/") {
        let id = path.rsplit('/').next().unwrap().trim_end_matches(".md");
        assert!(ids.contains(id), "{path} belongs to no statement");
    }
}

/// A text uses exactly the evidence its row names, and all evidence is used.
#[test]
fn texts_and_rows_name_the_same_evidence() {
    let library = library();
    let mut used = BTreeSet::new();
    for statement in &library.statements {
        let text = text(&statement.row.id);
        let named: BTreeSet<&str> = statement.row.evidence.iter().map(String::as_str).collect();
        let calls = text.split("{{").skip(1).filter_map(|call| call.split("}}").next());
        let calls = calls.filter(|call| call.contains("(\""));
        let in_text: BTreeSet<&str> = calls.filter_map(|call| call.split('"').nth(1)).collect();
        assert_eq!(named, in_text, "{}", statement.row.id);
        for id in named {
            assert!(library.evidence.contains_key(id), "{}: no evidence {id}", statement.row.id);
            used.insert(id.to_owned());
        }
    }
    let idle: Vec<&String> = library.evidence.keys().filter(|id| !used.contains(*id)).collect();
    assert!(idle.is_empty(), "evidence that no statement uses: {idle:?}");
}

/// Texts speak of facts and of nothing else; an unknown name is found when the catalogue loads, not when a patient waits.
#[test]
fn unknown_names_sections_and_lost_core_statements_are_refused_at_load() {
    let row = |row: &str| ("templates/statements.toml".to_owned(), format!("[[statement]]\n{row}"));
    let words = |id: &str, text: &str| (format!("locales/en-US/statements/{id}.md"), text.to_owned());
    let plain = "id = \"own\"\npage = \"consent\"\norder = 1\nkind = \"text\"\n";
    for (files, said) in [
        (vec![words("risk-lens", "### A\n\n{{ patiant }}")], "no fact patiant"),
        (vec![words("risk-lens", "### A\n\n{% if patiant is defined %}x{% endif %}")], "no fact patiant"),
        (vec![row(&format!("{plain}section = \"risk\""))], "no section risk"),
        (vec![row(&format!("{plain}section = \"risks\""))], "own.md is missing"),
        (vec![row(&plain.replace("consent", "conscent"))], "conscent"),
        (
            vec![row(&format!("{plain}section = \"risks\"\nevidence = [\"none\"]")), words("own", "x")],
            "no evidence none",
        ),
        (
            vec![row(
                "id = \"risk-sight-loss\"\npage = \"consent\"\nsection = \"risks\"\norder = 1\nkind = \"risk\"\nwhen = \"lens == 'none'\"\ncore = true",
            )],
            "a core statement may be reworded",
        ),
    ] {
        let assets = Assets::new(files.into_iter().collect());
        let error = Library::load(&assets, "en-US").map(|_| ()).expect_err(said);
        assert!(error.contains(said), "{said}: {error}");
    }
}

/// Words that promise or that say for the patient what only the patient can say.
#[test]
fn no_statement_promises() {
    for statement in library().statements {
        let text = text(&statement.row.id).to_lowercase();
        for word in
            ["no risk", "risk-free", "guarantee", "completely safe", "perfectly safe", "100%", "i fully understand"]
        {
            assert!(!text.contains(word), "{}: {word}", statement.row.id);
        }
    }
}

#[test]
fn the_core_risks_are_marked_as_such() {
    let library = library();
    let core: BTreeSet<&str> = library
        .statements
        .iter()
        .filter(|statement| statement.row.core)
        .map(|statement| statement.row.id.as_str())
        .collect();
    for id in ["risk-sight-loss", "risk-retina", "risk-pressure", "risk-not-enough", "risk-lens"] {
        assert!(core.contains(id), "{id} is a core risk");
    }
}

#[test]
fn formulary_and_words_load_and_cite_no_web_address() {
    Formulary::load(&Assets::default()).unwrap();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    for file in Assets::default().under("templates/").iter().chain(&Assets::default().under("locales/")) {
        let text = fs::read_to_string(root.join(file)).unwrap();
        for address in ["http://", "https://", "www."] {
            assert!(!text.contains(address), "{file} holds a web address");
        }
    }
}

/// A word of the record that its fact does not know would reach no rule: `grade1` once did not reach `grade_1`.
#[test]
fn every_word_of_the_record_is_a_word_of_its_fact() {
    use vitreoleaf::facts::{Kind, definitions};
    let schema = serde_json::to_value(schemars::schema_for!(vitreoleaf::record::Record)).unwrap();
    let words = |definition: &serde_json::Value| -> Vec<String> {
        let listed = definition["enum"].as_array().cloned().unwrap_or_default();
        let told = definition["oneOf"].as_array().cloned().unwrap_or_default();
        let told = told.iter().map(|one| one["const"].clone());
        listed.into_iter().chain(told).filter_map(|word| word.as_str().map(str::to_owned)).collect()
    };
    let mut compared = 0;
    for table in schema["$defs"].as_object().unwrap().values() {
        for (key, value) in table["properties"].as_object().into_iter().flatten() {
            let Some(name) = value["$ref"].as_str().and_then(|path| path.strip_prefix("#/$defs/")) else { continue };
            let fact = definitions().find(|fact| fact.name == key);
            if let Some(Kind::Choice(known)) = fact.map(|fact| fact.kind) {
                for word in words(&schema["$defs"][name]) {
                    assert!(known.contains(&word.as_str()), "{key} can be {word}, and its fact cannot");
                    compared += 1;
                }
            }
        }
    }
    assert!(compared > 80, "only {compared} words were compared");
}
