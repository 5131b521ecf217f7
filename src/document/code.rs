//! Visits as a QR code: iCalendar text (RFC 5545) in the code itself, with neutral titles and no name.

use std::fmt::Write;

use chrono::{NaiveDateTime, TimeZone, Utc};
use qrcode::{Color, EcLevel, QrCode};

use super::sheet::{Built, Sheet};
use super::{Block, Code};
use crate::plan::Visit;

/// How long a visit is entered for, minutes. The desk knows better; a calendar needs a length.
pub(crate) const VISIT_MINUTES: u32 = 30;

/// Modules along a side that a phone still reads in the size we print (version 25; common practice, no source).
const MOST_MODULES: usize = 117;

/// Octets of a content line, its end left out (RFC 5545, 3.1).
const LINE: usize = 75;

/// Paragraphs about the visits, with the code of all of them beside it where the practice wants one and a code of readable size
/// holds them.
///
/// # Errors
/// A text that is missing.
pub(super) fn beside(sheet: &Sheet, paragraphs: Vec<Block>) -> Built<Vec<Block>> {
    let wanted = sheet.profile.practice.visits_code && !sheet.plan.visits.is_empty();
    let text = wanted.then(|| calendar(sheet)).transpose()?;
    let Some((side, path)) = text.and_then(|text| drawn(&text, EcLevel::L)) else { return Ok(paragraphs) };
    let text = paragraphs.into_iter().filter_map(|block| match block {
        Block::Paragraph { text } => Some(text),
        _ => None,
    });
    let (hint, alt) = (sheet.text("code.hint", &[])?, sheet.text("code.alt", &[])?);
    Ok(vec![Block::Code(Code { text: text.collect(), hint, alt, side, path })])
}

/// The visits as a calendar. Times are in UTC, so that no rules of a zone are needed; identifiers are those of the calendar file.
fn calendar(sheet: &Sheet) -> Built<String> {
    let summary = sheet.text("calendar.visit", &[])?;
    let mut lines = vec!["BEGIN:VCALENDAR".to_owned(), "VERSION:2.0".into(), "PRODID:-//vitreoleaf//EN".into()];
    for visit in &sheet.plan.visits {
        lines.push("BEGIN:VEVENT".into());
        lines.push(format!("UID:{}", sheet.visit_uid(visit)));
        lines.push(format!("DTSTAMP:{}T000000Z", sheet.issued.format("%Y%m%d")));
        lines.extend(when(sheet, visit));
        lines.push(format!("SUMMARY:{summary}"));
        lines.extend(visit.if_raised.then(|| "STATUS:TENTATIVE".to_owned()));
        lines.push("END:VEVENT".into());
    }
    lines.push("END:VCALENDAR".into());
    Ok(lines.iter().map(|line| folded(line) + "\r\n").collect())
}

/// Start and length, or the date of a visit without a time.
fn when(sheet: &Sheet, visit: &Visit) -> Vec<String> {
    match visit.at.and_then(|at| utc(sheet, visit.date.and_time(at))) {
        Some(start) => {
            vec![format!("DTSTART:{}", start.format("%Y%m%dT%H%M%SZ")), format!("DURATION:PT{VISIT_MINUTES}M")]
        }
        None => vec![format!("DTSTART;VALUE=DATE:{}", visit.date.format("%Y%m%d"))],
    }
}

fn utc(sheet: &Sheet, local: NaiveDateTime) -> Option<chrono::DateTime<Utc>> {
    sheet.plan.zone.from_local_datetime(&local).earliest().map(|at| at.to_utc())
}

/// A content line in pieces of at most [`LINE`] octets, a continuation with its space; no character is cut.
fn folded(line: &str) -> String {
    let (mut folded, mut room) = (String::new(), LINE);
    for character in line.chars() {
        if character.len_utf8() > room {
            folded.push_str("\r\n ");
            room = LINE - 1;
        }
        room -= character.len_utf8();
        folded.push(character);
    }
    folded
}

/// Side and outline of a code with that much to spare for what a copier loses; none where it would be too large to read.
pub(super) fn drawn(text: &str, level: EcLevel) -> Option<(usize, String)> {
    let code = QrCode::with_error_correction_level(text, level).ok()?;
    let (side, colours) = (code.width(), code.to_colors());
    let mut path = String::new();
    for (y, row) in colours.chunks(side).enumerate() {
        let mut x = 0;
        while x < side {
            let run = row[x..].iter().take_while(|module| **module == Color::Dark).count();
            if run > 0 {
                let _ = write!(path, "M{x} {y}h{run}v1h-{run}z");
            }
            x += run.max(1);
        }
    }
    (side <= MOST_MODULES).then_some((side, path))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 5545, 3.1: 75 octets stay, the 76th begins a line with a space; a letter of two octets is not cut.
    #[test]
    fn long_lines_are_folded() {
        let line = "a".repeat(75);
        assert_eq!(folded(&line), line);
        assert_eq!(folded(&format!("{line}b")), format!("{line}\r\n b"));
        assert_eq!(folded(&format!("{}é", "a".repeat(74))), format!("{}\r\n é", "a".repeat(74)));
    }

    /// The finder in the upper left corner is 7 modules wide (ISO/IEC 18004); what holds too much is not drawn.
    #[test]
    fn a_code_is_outlined() {
        let (side, path) = drawn("BEGIN:VCALENDAR", EcLevel::L).unwrap();
        assert_eq!(side, 21);
        assert!(path.starts_with("M0 0h7v1h-7z"), "{path}");
        assert!(drawn(&"x".repeat(1_273), EcLevel::L).is_some_and(|(side, _)| side == 117));
        assert_eq!(drawn(&"x".repeat(1_274), EcLevel::L), None);
    }
}
