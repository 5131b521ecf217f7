//! The files a clinic edits: every name is known, every number has a home, nothing is lost.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use crate::packets::practice_of;
use vitreoleaf::assets::{Assets, samples};
use vitreoleaf::content::Library;
use vitreoleaf::demo;
use vitreoleaf::proof;
use vitreoleaf::proof::wording::Wording;
use vitreoleaf::record::formulary::Formulary;

fn library() -> Library {
    Library::load(&Assets::default(), "en-US").unwrap()
}

#[test]
fn every_text_belongs_to_a_statement() {
    let ids: BTreeSet<String> = library().statements.into_iter().map(|statement| statement.row.id).collect();
    for path in Assets::default().under("locales/en-US/statements/") {
        let id = path.rsplit('/').next().unwrap().trim_end_matches(".md");
        assert!(ids.contains(id), "{path} belongs to no statement");
    }
}

/// What the loader cannot refuse is found by proofreading: no typed number, no promise, no half framing, no idle evidence,
/// no condition that never or always holds, no statement that no case reaches, no text that cannot be filled.
#[test]
fn the_catalogue_has_nothing_to_mend() {
    let practice = demo::practice(&samples()).unwrap();
    assert_eq!(proof::proofread(&practice, "en-US").unwrap(), []);
}

/// Each kind of fault is found, and named with its statement.
#[test]
fn proofreading_finds_each_fault() {
    let row = |when: &str, more: &str| {
        let row = format!(
            "[[statement]]\nid = \"own\"\npage = \"consent\"\nsection = \"risks\"\norder = 1\nkind = \"text\"\nwhen = \"{when}\"\n{more}\n"
        );
        ("templates/statements.toml".to_owned(), row)
    };
    let always = "lens == 'natural' or not lens == 'natural'";
    let sometimes = "lens == 'natural'";
    let text = |text: &str| ("locales/en-US/statements/own.md".to_owned(), text.to_owned());
    let idle = "[[evidence]]\nid = \"idle\"\noutcome = \"x\"\npopulation = \"x\"\ngrade = \"trial\"\ncitation = { value = \"x\", provenance = \"seen\" }\n";
    for (files, wanted) in [
        (vec![row(sometimes, ""), text("It helps 9 people.")], "a number is typed in"),
        (vec![row(sometimes, ""), text("It helps ½ of them.")], "a number is typed in"),
        (vec![row(sometimes, ""), text("This laser is safe.")], "\"safe\": promises"),
        (vec![row(sometimes, ""), text("I fully understand it.")], "says for the patient"),
        (
            vec![
                row(sometimes, "evidence = [\"nat-remission\"]"),
                text("In {{ about(\"nat-remission\") }} it went away."),
            ],
            "stands without rest",
        ),
        (vec![row(sometimes, "evidence = [\"nat-remission\"]"), text("It went away.")], "its text does not use it"),
        (vec![row(sometimes, ""), text("It went away.{{ source(\"nat-remission\") }}")], "which it does not name"),
        (vec![row(always, ""), text("Always.")], "always holds"),
        (vec![row("lens == 'natural' and lens == 'none'", ""), text("Never.")], "never holds"),
        (vec![row("lens == 'none' and capsule == 'open'", ""), text("No such eye.")], "no case reaches it"),
        (vec![row(sometimes, "possible = \"lens == 'none'\""), text("Both.")], "cannot be true"),
        (vec![row(sometimes, ""), text("At {{ recheck_at }} and {{ session_energy_mj }} mJ.")], "cannot be filled"),
        (vec![("templates/evidence.toml".to_owned(), idle.to_owned())], "no statement uses this evidence"),
    ] {
        let practice = practice_of(&samples()["practice/profile.toml"], Assets::new(files.into_iter().collect()));
        let library = practice.library("en-US").unwrap();
        let mut faults = proof::texts::faults(library, &Wording::load(&practice.assets, "en-US").unwrap());
        faults.extend(proof::walk::conditions(library));
        if faults.is_empty() {
            faults = proof::walk::cases(&practice, library).0;
        }
        assert!(faults.iter().any(|fault| fault.what.contains(wanted)), "{wanted}: {faults:?}");
    }
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

/// The namespace of SVG looks like an address and is a name.
#[test]
fn formulary_and_words_load_and_cite_no_web_address() {
    Formulary::load(&Assets::default()).unwrap();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    for file in Assets::default().under("templates/").iter().chain(&Assets::default().under("locales/")) {
        let text = fs::read_to_string(root.join(file)).unwrap().replace("http://www.w3.org/2000/svg", "");
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
