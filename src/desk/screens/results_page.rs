//! Own results on paper: the same numbers, pictures and words as on the screen.

use serde_json::Value;

use crate::desk::answer::Answer;
use crate::desk::error::DeskError;
use crate::desk::room::Room;
use crate::document::{BannerLine, Block, Chart, Document, Eyes, Footer, Header, Inline, Inlines, Page, Print, Weight};
use crate::render::pdf::Stamp;

/// The page from what the screen shows.
pub(super) fn pdf(room: &Room, shown: &Value) -> Result<Answer, DeskError> {
    let document = document(room, shown)?;
    let stamp = Stamp { ident: format!("results {}", room.today()), issued: room.now() };
    let bytes = room.practice.typesetter().pdf(&document, &stamp);
    let bytes = bytes.map_err(|error| DeskError::Text(error.to_string()))?;
    let file = Some(format!("results-{}.pdf", room.today()));
    Ok(Answer { file, ..Answer::bytes(200, "application/pdf", bytes) })
}

fn document(room: &Room, shown: &Value) -> Result<Document, DeskError> {
    let words = |key: &str| room.words.word(&format!("results.{key}"));
    let profile = &room.practice.profile.practice;
    let language = room.words.locale.tag.clone();
    let mut banner: Vec<String> = profile.banner.clone().into_iter().collect();
    if room.example.is_some() {
        banner.push(words("invented")?);
    }
    Ok(Document {
        page: Page::Surgeon,
        paper: profile.paper,
        print: Print::Standard,
        title: words("title")?,
        header: Header {
            name: profile.name(&language).to_owned(),
            identifiers: room.words.say("results.up_to", &[("date", &text(shown, "up_to"))])?,
            eye: words("all_eyes")?,
            eyes: Eyes::Both,
        },
        footer: Footer {
            document: words("practice_alone")?,
            practice: profile.name(&language).to_owned(),
            page: words("page")?,
            of: words("of")?,
        },
        banner: banner.into_iter().map(|text| BannerLine { language: language.clone(), text }).collect(),
        draft: false,
        second: false,
        marked: false,
        right_to_left: room.words.locale.right_to_left,
        label_end: ":".into(),
        blocks: blocks(room, shown)?,
        language,
    })
}

fn blocks(room: &Room, shown: &Value) -> Result<Vec<Block>, DeskError> {
    let words = |key: &str| room.words.word(&format!("results.{key}"));
    let mut blocks = vec![paragraph(chosen(room, shown)?), paragraph(standing(room, shown)?)];
    if shown["shares"] == false {
        blocks.push(notice(words("title")?, words("not_confirmed")?));
    }
    for (help, title) in [(true, "help"), (false, "harm")] {
        blocks.push(counts(room, shown, help, words(title)?)?);
    }
    blocks.push(paragraph(words("how")?));
    blocks.push(heading(words("curve")?));
    if shown["curve"]["reached"] == true {
        blocks.push(notice(words("curve")?, text(&shown["curve"], "alarm")));
    }
    blocks.push(chart(&shown["curve"], "drawn", "alt", text(&shown["curve"], "says")));
    blocks.push(heading(words("review")?));
    blocks.push(review(room, shown)?);
    blocks.push(heading(words("by_time")?));
    blocks.push(rates(room, shown)?);
    if shown["funnel"].is_object() {
        blocks.push(heading(words("funnel")?));
        blocks.push(chart(&shown["funnel"], "drawn", "alt", text(&shown["funnel"], "alt")));
    }
    if shown["energy"].is_object() {
        blocks.push(heading(words("sessions")?));
        for key in ["energy", "pulses"] {
            blocks.push(chart(&shown["energy"], key, &format!("{key}_alt"), words(key)?));
        }
    }
    Ok(blocks)
}

/// Whose eyes, which, and since when.
fn chosen(room: &Room, shown: &Value) -> Result<String, DeskError> {
    let surgeons = shown["surgeons"].as_array().into_iter().flatten();
    let surgeon = surgeons.filter(|one| one[2] == true).find_map(|one| one[1].as_str()).unwrap_or_default();
    let group = |key: &str| room.words.word(&format!("results.{key}.{}", text(shown, &format!("asked_{key}"))));
    let mut said = vec![
        format!("{}: {surgeon}", room.words.word("results.surgeon")?),
        format!("{}: {}", room.words.word("results.which_eyes")?, group("eyes")?),
        format!("{}: {}", room.words.word("results.which_floaters")?, group("floaters")?),
    ];
    let since = text(shown, "since");
    if !since.is_empty() {
        said.push(format!("{}: {since}", room.words.word("results.since")?));
    }
    Ok(said.join(". "))
}

fn standing(room: &Room, shown: &Value) -> Result<String, DeskError> {
    let months = shown["months"].to_string();
    let say =
        |key: &str| room.words.say(&format!("results.{key}"), &[("count", &text(shown, key)), ("months", &months)]);
    let parts = [say("treated")?, say("followed")?, say("not_yet")?, say("lost")?];
    Ok(format!("{} {}", parts.join(" "), room.words.word("results.eyes_not_sessions")?))
}

fn counts(room: &Room, shown: &Value, help: bool, caption: String) -> Result<Block, DeskError> {
    let words = |key: &str| room.words.word(&format!("results.{key}"));
    let (of, few, unknown) = (words("of")?, words("too_few")?, words("not_known")?);
    let rows = shown["rows"].as_array().into_iter().flatten().filter(|row| row["help"] == help);
    let rows = rows.map(|row| {
        let or = |key: &str, other: &str| row[key].as_str().unwrap_or(other).to_owned();
        vec![
            text(row, "label"),
            format!("{} {of} {}", text(row, "affected"), text(row, "followed")),
            text(row, "treated"),
            text(row, "window"),
            or("could", &few),
            or("published", &unknown),
        ]
    });
    let columns = ["what", "of_followed", "of_treated", "window", "could_be", "published"];
    Ok(table(
        caption,
        columns.iter().map(|key| words(key)).collect::<Result<_, _>>()?,
        &[6, 4, 2, 3, 5, 4],
        rows.collect(),
    ))
}

fn review(room: &Room, shown: &Value) -> Result<Block, DeskError> {
    let lines: Vec<&Value> = shown["review"].as_array().into_iter().flatten().collect();
    if lines.is_empty() {
        return Ok(paragraph(room.words.word("results.nothing")?));
    }
    let rows = lines.into_iter().map(|line| {
        let done = line["done"].as_str().unwrap_or_default();
        vec![line["eye"].to_string(), text(line, "code"), text(line, "says"), done.to_owned()]
    });
    let columns = vec![
        room.words.word("results.which_eyes")?,
        room.words.word("case.title")?,
        room.words.word("outcome.label.kind")?,
        room.words.word("outcome.label.done")?,
    ];
    Ok(table(room.words.word("results.review")?, columns, &[2, 3, 9, 6], rows.collect()))
}

fn rates(room: &Room, shown: &Value) -> Result<Block, DeskError> {
    let words = |key: &str| room.words.word(&format!("results.{key}"));
    let mut rows = Vec::new();
    for rate in shown["rates"].as_array().into_iter().flatten() {
        let per = rate["per"].as_array().filter(|_| shown["shares"] == true);
        let per = match per.map(|per| [0, 1, 2].map(|at| per[at].as_str().unwrap_or_default())) {
            Some([per, low, high]) => room.words.say("results.rate", &[("rate", per), ("low", low), ("high", high)])?,
            None => words("too_few")?,
        };
        rows.push(vec![text(rate, "label"), rate["events"].to_string(), text(rate, "years"), per]);
    }
    let columns = ["what", "events", "eye_years", "per_100"];
    Ok(table(words("by_time")?, columns.iter().map(|key| words(key)).collect::<Result<_, _>>()?, &[6, 2, 3, 6], rows))
}

fn table(caption: String, columns: Vec<String>, widths: &[u8], rows: Vec<Vec<String>>) -> Block {
    let rows = rows.into_iter().map(|row| row.into_iter().map(plain).collect()).collect();
    Block::Table { caption, columns, widths: widths.to_vec(), row_heads: true, rows }
}

fn chart(shown: &Value, svg: &str, alt: &str, note: String) -> Block {
    Block::Chart(Chart { svg: text(shown, svg), alt: text(shown, alt), note })
}

fn heading(text: String) -> Block {
    Block::Heading { level: 2, text }
}

fn paragraph(text: String) -> Block {
    Block::Paragraph { text: plain(text) }
}

fn notice(title: String, text: String) -> Block {
    Block::Notice { weight: Weight::Heavy, title, text: plain(text) }
}

fn plain(text: String) -> Inlines {
    if text.is_empty() { Vec::new() } else { vec![Inline::Text(text)] }
}

fn text(shown: &Value, key: &str) -> String {
    shown[key].as_str().unwrap_or_default().to_owned()
}
