//! Own results on paper: the same numbers, pictures and words as on the screen.

use super::results_shown::{FunnelView, RowView, Shown};

use crate::desk::answer::Answer;
use crate::desk::error::DeskError;
use crate::desk::room::Room;
use crate::document::{BannerLine, Block, Chart, Document, Eyes, Footer, Header, Inline, Inlines, Page, Print, Weight};
use crate::render::pdf::Stamp;

/// The page from what the screen shows.
pub(super) fn pdf(room: &Room, shown: &Shown) -> Result<Answer, DeskError> {
    let document = document(room, shown)?;
    let stamp = Stamp { ident: format!("results {}", room.today()), issued: room.now() };
    let bytes = room.practice.typesetter().pdf(&document, &stamp);
    let bytes = bytes.map_err(|error| DeskError::Text(error.to_string()))?;
    let file = Some(format!("results-{}.pdf", room.today()));
    Ok(Answer { file, ..Answer::bytes(200, "application/pdf", bytes) })
}

fn document(room: &Room, shown: &Shown) -> Result<Document, DeskError> {
    let words = |key: &str| room.words.word(&format!("results.{key}"));
    let profile = &room.practice.profile.practice;
    let language = room.words.locale.tag.clone();
    let mut banner: Vec<String> = profile.banner.clone().into_iter().collect();
    if room.example.is_some() {
        banner.push(words("invented")?);
    }
    Ok(Document {
        page: Page::Surgeon,
        id: String::new(),
        revision: 1,
        paper: profile.paper,
        print: Print::Standard,
        title: words("title")?,
        header: Header {
            name: profile.name(&language).to_owned(),
            identifiers: room.words.say("results.up_to", &[("date", &shown.up_to)])?,
            eye: words("all_eyes")?,
            eyes: Eyes::Both,
        },
        footer: Footer {
            document: words("practice_alone")?,
            practice: profile.name(&language).to_owned(),
            page: words("page")?,
            of: words("of")?,
        },
        seal: None,
        banner: banner.into_iter().map(|text| BannerLine { language: language.clone(), text }).collect(),
        draft: false,
        second: false,
        marked: false,
        in_lines: false,
        right_to_left: room.words.locale.right_to_left,
        label_end: ":".into(),
        blocks: blocks(room, shown)?,
        language,
    })
}

fn blocks(room: &Room, shown: &Shown) -> Result<Vec<Block>, DeskError> {
    let words = |key: &str| room.words.word(&format!("results.{key}"));
    let mut blocks = vec![paragraph(chosen(room, shown)?), paragraph(standing(room, shown)?)];
    if !shown.shares {
        blocks.push(notice(words("title")?, words("not_confirmed")?));
    }
    for (help, title) in [(true, "help"), (false, "harm")] {
        blocks.push(counts(room, shown, help, words(title)?)?);
    }
    blocks.push(paragraph(words("how")?));
    blocks.push(heading(words("curve")?));
    if shown.curve.reached {
        blocks.push(notice(words("curve")?, shown.curve.alarm.clone()));
    }
    blocks.push(chart(&shown.curve.drawn, &shown.curve.alt, shown.curve.says.clone()));
    blocks.push(heading(words("review")?));
    blocks.push(review(room, shown)?);
    blocks.push(heading(words("by_time")?));
    blocks.push(rates(room, shown)?);
    if let Some(funnel) = &shown.funnel {
        blocks.push(heading(words("funnel")?));
        blocks.push(chart(&funnel.drawn, &funnel.alt, funnel.alt.clone()));
        blocks.push(beside(room, funnel)?);
    }
    if let Some(sessions) = &shown.energy {
        blocks.push(heading(words("sessions")?));
        blocks.push(chart(&sessions.energy, &sessions.energy_alt, sessions.energy_alt.clone()));
        blocks.push(chart(&sessions.pulses, &sessions.pulses_alt, sessions.pulses_alt.clone()));
    }
    Ok(blocks)
}

/// Whose eyes, which, and since when.
fn chosen(room: &Room, shown: &Shown) -> Result<String, DeskError> {
    let surgeon = shown.surgeons.iter().find(|(_, _, chosen)| *chosen).map_or("", |(_, name, _)| name.as_str());
    let group = |key: &str, word: &str| room.words.word(&format!("results.{key}.{word}"));
    let mut said = vec![
        format!("{}: {surgeon}", room.words.word("results.surgeon")?),
        format!("{}: {}", room.words.word("results.which_eyes")?, group("eyes", shown.asked_eyes)?),
        format!("{}: {}", room.words.word("results.which_floaters")?, group("floaters", shown.asked_floaters)?),
    ];
    let since = &shown.since;
    if !since.is_empty() {
        said.push(format!("{}: {since}", room.words.word("results.since")?));
    }
    Ok(said.join(". "))
}

fn standing(room: &Room, shown: &Shown) -> Result<String, DeskError> {
    let months = shown.rule.window_months.to_string();
    let say =
        |key: &str, count: &str| room.words.say(&format!("results.{key}"), &[("count", count), ("months", &months)]);
    let parts = [
        say("treated", &shown.treated)?,
        say("followed", &shown.followed)?,
        say("not_yet", &shown.not_yet)?,
        say("lost", &shown.lost)?,
    ];
    Ok(format!("{} {}", parts.join(" "), room.words.word("results.eyes_not_sessions")?))
}

fn counts(room: &Room, shown: &Shown, help: bool, caption: String) -> Result<Block, DeskError> {
    let words = |key: &str| room.words.word(&format!("results.{key}"));
    let (of, few, unknown) = (words("of")?, words("too_few")?, words("not_known")?);
    let cells = |row: &RowView| {
        vec![
            row.label.clone(),
            format!("{} {of} {}", row.affected, row.followed),
            row.treated.clone(),
            row.window.clone(),
            row.could.clone().unwrap_or_else(|| few.clone()),
            row.published.clone().unwrap_or_else(|| unknown.clone()),
        ]
    };
    let rows = shown.rows.iter().filter(|row| row.help == help).map(cells);
    let columns = ["what", "of_followed", "of_treated", "window", "could_be", "published"];
    Ok(table(
        caption,
        columns.iter().map(|key| words(key)).collect::<Result<_, _>>()?,
        &[6, 4, 2, 3, 5, 4],
        rows.collect(),
    ))
}

fn review(room: &Room, shown: &Shown) -> Result<Block, DeskError> {
    if shown.review.is_empty() {
        return Ok(paragraph(room.words.word("results.nothing")?));
    }
    let rows = shown.review.iter().map(|line| {
        let (code, done) = (line.code.clone().unwrap_or_default(), line.done.clone().unwrap_or_default());
        let severity = line.severity.as_ref().map(|severity| format!(" ({severity})")).unwrap_or_default();
        vec![line.eye.to_string(), code, format!("{}{severity}", line.says), done]
    });
    let columns = vec![
        room.words.word("results.which_eyes")?,
        room.words.word("case.title")?,
        room.words.word("outcome.label.kind")?,
        room.words.word("outcome.label.done")?,
    ];
    Ok(table(room.words.word("results.review_says")?, columns, &[2, 3, 10, 5], rows.collect()))
}

fn rates(room: &Room, shown: &Shown) -> Result<Block, DeskError> {
    let words = |key: &str| room.words.word(&format!("results.{key}"));
    let mut rows = Vec::new();
    for rate in &shown.rates {
        let per = match &rate.per {
            Some((per, low, high)) => room.words.say("results.rate", &[("rate", per), ("low", low), ("high", high)])?,
            None => words("too_few")?,
        };
        rows.push(vec![rate.label.clone(), rate.events.to_string(), rate.eyes.clone(), rate.years.clone(), per]);
    }
    let columns = ["what", "events", "eyes_followed", "eye_years", "per_100"];
    Ok(table(
        words("by_time_says")?,
        columns.iter().map(|key| words(key)).collect::<Result<_, _>>()?,
        &[6, 2, 3, 3, 6],
        rows,
    ))
}

fn beside(room: &Room, funnel: &FunnelView) -> Result<Block, DeskError> {
    let words = |key: &str| room.words.word(&format!("results.{key}"));
    let (of, above) = (words("of")?, words("above")?);
    let mut rows = Vec::new();
    for row in &funnel.rows {
        let (low, high) = (row.from.to_string(), row.to.to_string());
        let mut chance = room.words.say("results.from_to", &[("low", &low), ("high", &high)])?;
        if row.high {
            chance = format!("{chance} ({above})");
        }
        rows.push(vec![row.name.clone(), format!("{} {of} {}", row.affected, row.followed), chance]);
    }
    let columns = vec![words("surgeon")?, words("of_followed")?, words("chance")?];
    Ok(table(words("funnel_says")?, columns, &[6, 4, 6], rows))
}

fn table(caption: String, columns: Vec<String>, widths: &[u8], rows: Vec<Vec<String>>) -> Block {
    let rows = rows.into_iter().map(|row| row.into_iter().map(plain).collect()).collect();
    Block::Table { caption, columns, widths: widths.to_vec(), row_heads: true, rows }
}

fn chart(svg: &str, alt: &str, note: String) -> Block {
    Block::Chart(Chart { svg: svg.to_owned(), alt: alt.to_owned(), note })
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
