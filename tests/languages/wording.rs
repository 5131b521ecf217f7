//! The wording rules of each language find what they are for, and leave sound text alone: `tests/languages/wording.toml`.

use std::collections::{BTreeMap, BTreeSet};

use serde::Deserialize;
use vitreoleaf::assets::Assets;
use vitreoleaf::proof::wording::Wording;

use super::WHOLE;
use crate::plain::measure;

const EXAMPLES: &str = include_str!("wording.toml");

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Examples {
    sound: Vec<String>,
    passive: Vec<String>,
    active: Vec<String>,
    bad: BTreeMap<String, Vec<String>>,
}

fn examples() -> BTreeMap<String, Examples> {
    toml::from_str(EXAMPLES).unwrap()
}

/// The ids of the rules in a language's own file.
fn rules(tag: &str) -> BTreeSet<String> {
    let file: toml::Table = Assets::default().get(&format!("locales/{tag}/wording.toml")).unwrap().parse().unwrap();
    file["rule"].as_array().unwrap().iter().map(|rule| rule["id"].as_str().unwrap().to_owned()).collect()
}

/// A variant has the rules of its source.
#[test]
fn every_language_has_examples() {
    let own = WHOLE.iter().filter(|(_, translated)| *translated).map(|(tag, _)| *tag);
    assert_eq!(examples().keys().map(String::as_str).collect::<BTreeSet<_>>(), own.chain(["en-US"]).collect());
}

/// Not vacuous: at least one bad example of each rule, and sound text that none hits.
#[test]
fn each_rule_finds_its_fault() {
    for (tag, examples) in examples() {
        let wording = Wording::load(&Assets::default(), &crate::packets::lineage(&tag)).unwrap();
        assert_eq!(examples.bad.keys().cloned().collect::<BTreeSet<_>>(), rules(&tag), "{tag}");
        for (rule, text) in examples.bad.iter().flat_map(|(rule, texts)| texts.iter().map(move |text| (rule, text))) {
            let hits = wording.lines(text);
            assert!(hits.iter().any(|hit| hit.rule == *rule), "{tag}, {rule}: {text}: {hits:?}");
        }
        for text in &examples.sound {
            assert_eq!(wording.lines(text), [], "{tag}: {text}");
        }
    }
}

/// Passive sentences are counted, states are not.
#[test]
fn passive_sentences_are_found() {
    for (tag, examples) in examples() {
        let wording = Wording::load(&Assets::default(), &crate::packets::lineage(&tag)).unwrap();
        let stops = measure(&tag).stops;
        let passive = |text: &String| wording.voice(text, &stops).passive.len();
        let missed: Vec<_> = examples.passive.iter().filter(|text| passive(text) != 1).collect();
        assert!(missed.is_empty(), "{tag}: {missed:?}");
        let wrongly: Vec<_> = examples.active.iter().filter(|text| passive(text) != 0).collect();
        assert!(wrongly.is_empty(), "{tag}: {wrongly:?}");
    }
}
