//! `translations`: what of a practice's languages is missing, stale or not reviewed, and how to write down that it was
//! done.

use std::fmt::Write;

use serde_json::json;

use super::args::{Format, Translations, Wanted};
use super::report::{self, Failure};
use super::{Status, io};
use crate::assets::Assets;
use crate::content::catalog;
use crate::content::translation::{self, State, Text};
use crate::practice;

/// Lists the texts of each language that are not done, or writes the entries for those that now are.
pub(super) fn run(args: &Translations) -> Result<Status, Failure> {
    let profile = practice::profile(&args.practice)?;
    report::diagnostics(profile.warnings());
    let (printed, assets) = (&profile.practice.languages, &profile.with().assets);
    let mut languages = Vec::new();
    for tag in if args.language.is_empty() { printed } else { &args.language } {
        let staff = printed.first() == Some(tag);
        languages.push((tag.clone(), texts(assets, tag, staff)?));
    }
    let text = match (args.entries, args.format) {
        (Some(wanted), _) => languages.iter().map(|(_, texts)| entry(wanted, texts)).collect(),
        (None, Format::Human) => languages.iter().map(|(tag, texts)| told(tag, texts)).collect(),
        (None, Format::Json) => format!("{:#}\n", data(&languages)),
    };
    io::stdout(text.as_bytes())
}

/// The texts of a language that somebody reads: the staff's words are missing only where they are the clinic's own.
fn texts(assets: &Assets, tag: &str, staff: bool) -> Result<Vec<Text>, String> {
    let ids: Vec<String> = catalog::load(assets)?.into_iter().map(|statement| statement.row.id).collect();
    let mut texts = translation::texts(assets, tag, &ids)?;
    texts.retain(|text| staff || text.written || !text.for_staff());
    Ok(texts)
}

fn told(tag: &str, texts: &[Text]) -> String {
    let of = |state: State| texts.iter().filter(move |text| text.state == state);
    let mut told = format!("{tag}: {} texts, {} done\n", texts.len(), of(State::Current).count());
    for (state, word) in [
        (State::Missing, "missing"),
        (State::Unrecorded, "no record of who translated it"),
        (State::Stale, "stale, its source changed"),
        (State::Unreviewed, "not reviewed"),
    ] {
        for text in of(state) {
            let lacks = if text.written { text.lacks.join(", ") } else { String::new() };
            let lacks = if lacks.is_empty() { lacks } else { format!(" ({lacks})") };
            let _ = writeln!(told, "  {}: {word}{lacks}", text.id);
        }
    }
    told
}

fn data(languages: &[(String, Vec<Text>)]) -> serde_json::Value {
    let rows = languages.iter().flat_map(|(tag, texts)| {
        texts.iter().map(move |text| {
            json!({
                "language": tag,
                "text": text.id,
                "state": text.state,
                "lacks": text.lacks,
                "translated": text.translated,
                "reviewed": text.reviewed,
                "source_hash": text.source,
                "pair_hash": text.pair,
            })
        })
    });
    rows.collect()
}

/// An entry for `translation.toml` that holds what is not yet done, to be cut to what was done and signed.
fn entry(wanted: Wanted, texts: &[Text]) -> String {
    let (head, done) = match wanted {
        Wanted::Translated => ("[[translated]]\nby = \"\"\non = \"\"\n[translated.texts]\n", State::Unreviewed),
        Wanted::Reviewed => {
            ("[[reviewed]]\nby = \"\"\nqualification = \"\"\non = \"\"\n[reviewed.texts]\n", State::Current)
        }
    };
    let open = texts.iter().filter(|text| text.written && text.state < done);
    let lines = open.map(|text| match wanted {
        Wanted::Translated => format!("\"{}\" = \"{}\"\n", text.id, text.source),
        Wanted::Reviewed => format!("\"{}\" = \"{}\"\n", text.id, text.pair),
    });
    let lines: String = lines.collect();
    if lines.is_empty() { lines } else { format!("{head}{lines}") }
}
