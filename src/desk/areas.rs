//! Where statements stand on a page that is looked at, and what the last change altered of them.

use std::collections::BTreeMap;
use std::fmt::Write;

use serde::Serialize;

use crate::document::changes::{Change, ChangeKind};
use crate::render::drawing;
use crate::render::typeset::{Picture, Spot};

/// Spots no further apart than this stand in one row, points.
const ROW: f64 = 3.0;

/// Width of a bold letter, in its size; and the largest size of the letters of a stamp, in widths of the page.
const LETTER: f64 = 0.66;
const STAMP: f64 = 0.16;

/// The double bar beside what was altered: how far before it, and from line to line, points.
const BEFORE: f64 = 10.0;
const BETWEEN: f64 = 3.0;

/// Where a statement stands on the page, points.
#[derive(Debug, PartialEq, Serialize)]
pub(super) struct Area {
    id: String,
    x: f64,
    y: f64,
    width: f64,
    height: f64,
    is_statement: bool,
    changed: Option<ChangeKind>,
    chosen: bool,
}

/// What the last change did to each statement it altered, by id.
pub(super) fn kinds(changes: &[Change]) -> BTreeMap<&str, ChangeKind> {
    changes.iter().map(|change| (change.id.as_str(), change.kind)).collect()
}

/// The number of the first page on which the last change altered something, from 1; else the first.
pub(super) fn first_altered(pages: &[Picture], changes: &[Change]) -> usize {
    let kinds = kinds(changes);
    pages.iter().position(|page| is_altered(page, &kinds)).map_or(1, |at| at + 1)
}

/// Whether the last change altered something that begins on a page.
pub(super) fn is_altered(page: &Picture, kinds: &BTreeMap<&str, ChangeKind>) -> bool {
    page.spots.iter().any(|spot| kinds.contains_key(spot.id.as_str()))
}

/// That page as a picture, with a double bar beside what was altered.
pub(super) fn marked(pages: &[Picture], changes: &[Change]) -> Option<String> {
    let picture = pages.get(first_altered(pages, changes) - 1)?;
    let kinds = kinds(changes);
    let mut svg = picture.svg.strip_suffix("</svg>")?.to_owned();
    for Area { x, y, height, .. } in areas(picture, margin(pages), &[], &kinds, None) {
        for x in [x - BEFORE, x - BEFORE + BETWEEN] {
            let _ = write!(svg, "<path d=\"M{x} {y}v{height}\" stroke=\"#16202a\" stroke-width=\"1.2\"/>");
        }
    }
    Some(svg + "</svg>")
}

/// A page with a word across it that nobody overlooks on paper either.
pub(super) fn stamped(svg: &str, size: (f64, f64), word: &str) -> Option<String> {
    let ((width, height), letters) = (size, word.chars().count().max(1) as f64);
    let letter = (width / (letters * LETTER)).min(width * STAMP);
    let word = drawing::escape(word);
    let (across, down) = (width / 2.0, height / 2.0);
    let stamp = format!(
        "<text transform=\"translate({across} {down}) rotate(-40)\" text-anchor=\"middle\" font-family=\"sans-serif\" \
         font-weight=\"bold\" font-size=\"{letter}\" fill=\"none\" stroke=\"#a81e16\" stroke-width=\"2\">{word}</text></svg>"
    );
    Some(svg.strip_suffix("</svg>")?.to_owned() + &stamp)
}

/// The margin of the pages: where the first mark from the left stands.
pub(super) fn margin(pages: &[Picture]) -> f64 {
    let all = pages.iter().flat_map(|page| &page.spots);
    all.map(|spot| spot.at.0).min_by(f64::total_cmp).unwrap_or_default()
}

/// Where statements, and whatever else was altered, stand on a page: from their mark to what begins beside or below it; what
/// has a mark in several cells of a row is the whole row.
pub(super) fn areas(
    picture: &Picture,
    margin: f64,
    statements: &[&str],
    kinds: &BTreeMap<&str, ChangeKind>,
    chosen: Option<&str>,
) -> Vec<Area> {
    let (width, height) = picture.size;
    let in_row = |one: &Spot, other: &Spot| (other.at.1 - one.at.1).abs() < ROW;
    let again = |spot: &&Spot| {
        let first = picture.spots.iter().find(|other| other.id == spot.id && in_row(spot, other));
        first.is_some_and(|first| first.at != spot.at)
    };
    let area = |spot: &Spot| {
        let whole = picture.spots.iter().any(|other| other.id == spot.id && in_row(spot, other) && other.at != spot.at);
        let (x, y) = if whole { (margin, spot.at.1) } else { spot.at };
        let beside = picture.spots.iter().filter(|other| !whole && in_row(spot, other) && other.at.0 > x + ROW);
        let below = picture.spots.iter().filter(|other| other.at.1 > y + ROW);
        let right = beside.map(|other| other.at.0).fold(width - margin, f64::min);
        let bottom = below.map(|other| other.at.1).fold(height - margin, f64::min);
        Area {
            id: spot.id.clone(),
            x,
            y,
            width: (right - x).max(0.0),
            height: (bottom - y).max(0.0),
            is_statement: statements.contains(&spot.id.as_str()),
            changed: kinds.get(spot.id.as_str()).copied(),
            chosen: Some(spot.id.as_str()) == chosen,
        }
    };
    let shown = |spot: &&Spot| statements.contains(&spot.id.as_str()) || kinds.contains_key(spot.id.as_str());
    picture.spots.iter().filter(shown).filter(|spot| !again(spot)).map(area).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_statement_stands_from_its_mark_to_what_begins_beside_or_below_it() {
        let spot = |id: &str, x: f64, y: f64| Spot { id: id.into(), at: (x, y) };
        let row = [spot("row", 120.0, 400.0), spot("row", 320.0, 400.0)];
        let spots = [spot("a", 50.0, 100.0), spot("b", 50.0, 150.0), spot("c", 300.0, 151.0)].into_iter().chain(row);
        let spots = spots.chain([spot("part", 50.0, 430.0)]).collect();
        let picture = Picture { svg: String::new(), size: (600.0, 800.0), spots };
        let kinds = BTreeMap::from([("b", ChangeKind::New)]);
        let margin = margin(std::slice::from_ref(&picture));
        let found = areas(&picture, margin, &["a", "b", "c", "row"], &kinds, Some("c"));
        let at = |x, y, width, height| (x, y, width, height);
        let boxes: Vec<_> = found.iter().map(|area| at(area.x, area.y, area.width, area.height)).collect();
        assert_eq!(
            boxes,
            [
                at(50.0, 100.0, 500.0, 50.0),
                at(50.0, 150.0, 250.0, 250.0),
                at(300.0, 151.0, 250.0, 249.0),
                at(50.0, 400.0, 500.0, 30.0)
            ]
        );
        assert_eq!((found[1].changed, found[2].chosen, found[0].chosen), (Some(ChangeKind::New), true, false));
    }
}
