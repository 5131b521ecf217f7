//! The files a clinic edits: every name is known, every number has a home, nothing is lost.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use crate::packets::{practice_of, record};
use vitreoleaf::assets::{Assets, Kind, samples};
use vitreoleaf::content::catalog::{PatientPage, Statement};
use vitreoleaf::content::markdown::plain;
use vitreoleaf::content::{ComposeError, Content, Library};
use vitreoleaf::demo;
use vitreoleaf::facts::{Facts, Moment};
use vitreoleaf::findings::Rules;
use vitreoleaf::proof;
use vitreoleaf::proof::wording::Wording;
use vitreoleaf::record::formulary::Formulary;

const RISK: &str = "locales/en-US/statements/risk-lens.md";

fn library() -> Library {
    Library::load(&Assets::default(), "en-US").unwrap()
}

#[test]
fn every_text_belongs_to_a_statement() {
    let ids: BTreeSet<String> = library().statements.iter().map(|statement| statement.row.id.clone()).collect();
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

/// Each kind of fault of a text or a condition is found, and named with its statement; what only whole records show stands in
/// `wording.rs`.
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
    let idle = "[[evidence]]\nid = \"idle\"\noutcome = \"x\"\npopulation = \"x\"\ngrade = \"trial\"\nunit = \"people\"\ncitation = { value = \"x\", provenance = \"seen\" }\n";
    for (files, wanted) in [
        (vec![row(sometimes, ""), text("It helps 9 people.")], "a number is typed in"),
        (vec![row(sometimes, ""), text("It helps ½ of them.")], "a number is typed in"),
        (vec![row(sometimes, ""), text("This laser is safe.")], "\"safe\": promises"),
        (vec![row(sometimes, ""), text("I fully understand it.")], "says for the patient"),
        (
            vec![
                row(sometimes, "evidence = [\"vit-registry-2021\"]"),
                text("In {{ about(\"vit-registry-2021\") }} it went away."),
            ],
            "stands without rest",
        ),
        (
            vec![
                row(sometimes, "evidence = [\"harm-tear-longterm\"]"),
                text("In {{ counted(\"harm-tear-longterm\") }} it tore."),
            ],
            "counts fewer than 100 and stands without range",
        ),
        (vec![row(sometimes, "evidence = [\"nat-remission\"]"), text("It went away.")], "its text does not use it"),
        (vec![row(sometimes, ""), text("It went away.{{ source(\"nat-remission\") }}")], "which it does not name"),
        (vec![row(always, ""), text("It went away.")], "always holds"),
        (vec![row("lens == 'natural' and lens == 'none'", ""), text("It went away.")], "never holds"),
        (vec![row(sometimes, "possible = \"lens == 'none'\""), text("It went away.")], "cannot be true"),
        (vec![("templates/evidence.toml".to_owned(), idle.to_owned())], "no statement uses this evidence"),
    ] {
        let practice = practice_of(&samples()["practice/profile.toml"], Assets::new(files.into_iter().collect()));
        let library = practice.library("en-US").unwrap();
        let mut faults =
            proof::texts::faults(library, &Wording::load(&practice.assets, &crate::packets::lineage("en-US")).unwrap());
        if faults.is_empty() {
            faults = proof::walk::conditions(library);
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
        let error = Library::load(&assets, "en-US").map(|_| ()).expect_err(said).to_string();
        assert!(error.contains(said), "{said}: {error}");
    }
}

/// Whatever stands in a practice's files, they are refused with file and line, in a thread with the usual stack: conditions,
/// expressions and bold within each other, rows without end, texts that grow.
#[test]
fn no_file_of_a_practice_exhausts_the_program() {
    let assets = |path: &str, text: String| Assets::new([(path.to_owned(), text)].into());
    let deep = format!("{}lens == 'none'{}", "(".repeat(2_700), ")".repeat(2_700));
    let row = "[[statement]]\nid = \"own\"\npage = \"consent\"\nsection = \"risks\"\norder = 1\nkind = \"text\"\n";
    let files = assets("templates/statements.toml", format!("# own\n{row}when = \"{deep}\"\n"));
    let refused = Library::load(&files, "en-US").expect_err("too deep");
    let told = "practice/templates/statements.toml: line 2: statement own: the condition is nested more than 64 deep";
    assert!(refused.to_string().starts_with(told), "{refused}");
    let finding = format!(
        "[[finding]]\nid = \"own\"\nlevel = \"note\"\nwhen = \"{deep}\"\ntitle = \"\"\nsays = \"\"\ndo = \"\"\nbasis = \"\"\n"
    );
    let refused = Rules::load(&assets("templates/findings.toml", finding)).expect_err("too deep");
    assert_eq!((refused.problems[0].kind, refused.problems[0].line), (Kind::Limit, Some(1)), "{refused}");

    let brackets = format!("{{{{ {}1{} }}}}", "(".repeat(2_700), ")".repeat(2_700));
    let row = format!("{{% if lens == 'none' %}}a{}{{% endif %}}", "{% elif lens == 'none' %}b".repeat(2_000));
    let operators = format!("{{{{ {} }}}}", vec!["'a'"; 10_000].join(" ~ "));
    let bold = format!("{}x{}", "**a ".repeat(2_700), " b**".repeat(2_700));
    for text in [brackets, row, operators] {
        let files = assets(RISK, format!("### A\n\n{text}"));
        let refused = Library::load(&files, "en-US").expect_err("too deep");
        assert!(refused.to_string().starts_with(&format!("practice/{RISK}: line 3: ")), "{refused}");
        assert_eq!(refused.problems[0].kind, Kind::Limit);
        let words = format!("[aftercare]\nsigns = {}\n", toml::Value::String(text));
        let refused = Library::load(&assets("locales/en-US/words.toml", words), "en-US").expect_err("too deep");
        assert!(
            refused.to_string().starts_with("practice/locales/en-US/words.toml: line 2: aftercare.signs: "),
            "{refused}"
        );
    }
    let refused = Library::load(&assets(RISK, format!("### A\n\n{bold}")), "en-US").expect_err("too deep");
    assert!(refused.to_string().starts_with(&format!("practice/{RISK}: line 3: bold is nested")), "{refused}");
}

/// Thirty doublings made 2.8 GB: what a text puts together is counted while it is filled.
#[test]
fn no_text_grows_without_end() {
    let doubled =
        |times: usize| format!("{{% set a = 'abcdefgh' %}}{}{{{{ a }}}}", "{% set a = a ~ a %}".repeat(times));
    let (library, facts) = (library(), Facts::given(&BTreeMap::new()));
    let words = Content::words(&library, &facts).expect("words");
    let refused = words.template("own", &doubled(30)).expect_err("too much");
    assert!(matches!(refused, ComposeError::TooMuch { line: 1, .. }), "{refused}");
    // What the engine does not count has no place in a text.
    let loops = "{% for a in range(100000) %}{% for b in range(100000) %}{% endfor %}{% endfor %}".to_owned();
    let lists = format!("{{% set a = ['a'] %}}{}{{{{ list(a) }}}}", "{% set a = a + a %}".repeat(40));
    for text in [loops, lists, "{{ list(['a'] * 100000) }}".into(), "{{ range(100000) }}".into()] {
        assert!(words.template("own", &text).is_err(), "{text:.60}");
    }
    // 8 letters doubled 13 times are the 65,536 that fit.
    assert!(words.template("own", &doubled(13)).is_ok());
    let refused = words.template("own", &(doubled(13) + "x")).expect_err("one letter more");
    assert!(matches!(refused, ComposeError::TooMuch { .. }), "{refused}");

    let core = "locales/en-US/statements/risk-sight-loss.md";
    let files = Assets::new([(core.to_owned(), format!("### A\n\n{}", doubled(30)))].into());
    let practice = practice_of(&samples()["practice/profile.toml"], files);
    let record = record("ring-implant", |text| text);
    let moment = Moment::Before;
    let facts = Facts::derive(&practice.source(&record, moment));
    let refused = Content::compose(practice.library("en-US").unwrap(), &facts, PatientPage::Consent, &[]).unwrap_err();
    assert!(refused.to_string().starts_with(&format!("practice/{core}, line 3: this works on")), "{refused}");
}

/// In no language a number from fewer than 100 stands as a share: it is printed as it was counted, with its range in the same
/// text. Shares are found by their words, whatever wrote them.
#[test]
fn no_small_group_is_printed_as_a_share() {
    let assets = Assets::default();
    for language in ["en-US", "en-GB", "es-US", "fr", "de", "ar"] {
        let library = Library::load(&assets, language).unwrap();
        let words = Content::words(&library, &Facts::given(&BTreeMap::new())).unwrap();
        let small: Vec<&str> =
            library.evidence.values().filter(|one| one.is_small()).map(|one| one.id.as_str()).collect();
        assert!(small.len() > 15, "{small:?}");
        for id in small {
            let entry = &library.evidence[id];
            let (k, n) = (entry.count().unwrap(), entry.size().unwrap());
            let printed =
                |function: &str| plain(&words.template(id, &format!("{{{{ {function}(\"{id}\") }}}}")).unwrap());
            let said = digits(&printed("about"));
            assert_eq!(said, [k, n], "{language}, {id}: {}", printed("about"));
            let range = digits(&printed("range"));
            assert!(
                range.ends_with(&[100]) && range.iter().all(|number| *number <= 100),
                "{language}, {id}: {range:?}"
            );
        }
        for Statement { row, .. } in library.statements.iter() {
            let text = library.text(&row.id).unwrap();
            let told = |function: &str, id: &str| text.contains(&format!("{function}(\"{id}\")"));
            for id in row.evidence.iter().filter(|id| library.evidence[*id].is_small()) {
                let number = ["about", "counted", "count"].into_iter().any(|function| told(function, id));
                assert!(!number || told("range", id), "{language}, {}: {id} lacks its range", row.id);
            }
        }
    }
}

/// The whole numbers of a text.
fn digits(text: &str) -> Vec<u32> {
    text.split(|c: char| !c.is_ascii_digit()).filter_map(|number| number.parse().ok()).collect()
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

/// The namespace of SVG looks like an address and is a name, as are the names by which FHIR knows a system of codes.
#[test]
fn formulary_and_words_load_and_cite_no_web_address() {
    Formulary::load(&Assets::default()).unwrap();
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let (templates, locales) = (Assets::default().under("templates/"), Assets::default().under("locales/"));
    for file in templates.iter().chain(&locales).filter(|file| *file != "templates/fhir/systems.toml") {
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
