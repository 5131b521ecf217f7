//! A share as a picture, the same on paper and in HTML. From 100 who were counted on: 100 people in rows of 25, the affected
//! filled, those in the range on a shade. From fewer: a bar from 0 to 100 with the range shaded and the share marked.

use std::fmt::Write;

use super::colours::{ACCENT, CLEAR, DANGER, INK, WHITE};
use super::drawing::escape;
use crate::document::Figure;

/// How many people stand in a row.
const ROW: u8 = 25;
/// Distance of one to the next, across and down; a person is 100 high and 50 wide.
const PITCH: (u32, u32) = (80, 126);
/// The bar: its width and height.
const BAR: (u32, u32) = (1600, 110);

/// The picture for a page of HTML, with its alternative text; nothing where the share is not counted in 100.
pub(super) fn html(figure: &Figure, mirrored: bool) -> String {
    let opening = format!("class=\"share\" role=\"img\" aria-label=\"{}\"", escape(&figure.alt));
    drawn(figure, mirrored, &opening).unwrap_or_default()
}

/// The picture as a file of its own.
#[cfg(feature = "typeset")]
pub(super) fn file(figure: &Figure, mirrored: bool) -> Option<String> {
    drawn(figure, mirrored, "xmlns=\"http://www.w3.org/2000/svg\"")
}

/// Where text runs from right to left, counting begins at the right.
fn drawn(figure: &Figure, mirrored: bool, opening: &str) -> Option<String> {
    let share = figure.share?;
    let colour = if figure.harm { DANGER } else { ACCENT };
    let range = figure.range.unwrap_or_default();
    let ((width, height), shapes) =
        if figure.small { bar(share, range, colour, mirrored) } else { hundred(share, range, colour, mirrored) };
    Some(format!("<svg {opening} viewBox=\"-30 -30 {} {}\">{shapes}</svg>\n", width + 60, height + 60))
}

/// Shade from the lower to the upper end, a mark at the share, ticks at each quarter.
fn bar(share: u8, [low, high]: [u8; 2], colour: &str, mirrored: bool) -> ((u32, u32), String) {
    let (width, height) = BAR;
    let at = |share: u8| u32::from(if mirrored { 100 - share } else { share }) * width / 100;
    let mut shapes = String::new();
    if high > low {
        let (from, to) = (at(low).min(at(high)), at(low).max(at(high)));
        let _ = write!(
            shapes,
            "<rect x=\"{from}\" width=\"{}\" height=\"{height}\" fill=\"{CLEAR}\" stroke=\"{INK}\" stroke-width=\"8\"/>",
            to - from
        );
    }
    let _ = write!(
        shapes,
        "<rect width=\"{width}\" height=\"{height}\" fill=\"none\" stroke=\"{INK}\" stroke-width=\"12\"/>"
    );
    for quarter in [25, 50, 75] {
        let (x, y) = (at(quarter), height - 26);
        let _ = write!(shapes, "<path d=\"M{x} {y}v26\" stroke=\"{INK}\" stroke-width=\"8\"/>");
    }
    let (x, reach) = (at(share), height + 48);
    let _ = write!(shapes, "<path d=\"M{x} -24v{reach}\" stroke=\"{colour}\" stroke-width=\"44\"/>");
    (BAR, shapes)
}

/// People, filled from where lines begin.
fn hundred(share: u8, [low, high]: [u8; 2], colour: &str, mirrored: bool) -> ((u32, u32), String) {
    let (across, down) = PITCH;
    let place = |at: u8| {
        let column = if mirrored { ROW - 1 - at % ROW } else { at % ROW };
        (u32::from(column) * across, u32::from(at / ROW) * down)
    };
    let mut shapes = String::new();
    for (x, y) in (low..high).map(place) {
        let _ = write!(
            shapes,
            "<rect x=\"{}\" y=\"{}\" width=\"{across}\" height=\"{down}\" fill=\"{CLEAR}\" stroke=\"{INK}\" \
             stroke-width=\"8\"/>",
            i64::from(x) - 14,
            i64::from(y) - 10
        );
    }
    for (x, y, fill) in (0..100).map(|at| (place(at).0, place(at).1, if at < share { colour } else { WHITE })) {
        let look = format!("fill=\"{fill}\" stroke=\"{INK}\" stroke-width=\"6\"");
        let _ = write!(
            shapes,
            "<circle cx=\"{}\" cy=\"{}\" r=\"13\" {look}/>\
             <path d=\"M{} {}v34a8 8 0 0 1 -8 8h-34a8 8 0 0 1 -8 -8v-34a21 21 0 0 1 21 -21h8a21 21 0 0 1 21 21z\" {look}/>",
            x + 25,
            y + 16,
            x + 50,
            y + 55
        );
    }
    ((u32::from(ROW) * across, 100 / u32::from(ROW) * down), shapes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn figure(share: u8, small: bool, range: Option<[u8; 2]>) -> Figure {
        let text = String::new;
        Figure { title: text(), number: text(), share: Some(share), small, range, harm: true, alt: "\"".to_owned() }
    }

    /// As many are filled as the share says, and as many stand on the shade as lie between the ends of the range.
    #[test]
    fn a_hundred_are_drawn_and_the_affected_filled() {
        let drawn = html(&figure(3, false, Some([2, 5])), false);
        assert_eq!(drawn.matches("<circle").count(), 100);
        assert_eq!(drawn.matches("r=\"13\" fill=\"#a81e16\"").count(), 3);
        assert_eq!(drawn.matches("<rect").count(), 3);
        assert!(drawn.contains("aria-label=\"&quot;\""));
    }

    /// Of a small group nobody is drawn; without a range nothing is shaded; from right to left the bar is turned.
    #[test]
    fn a_small_group_is_a_bar() {
        let bar = drawn(&figure(53, true, Some([35, 70])), false, "").unwrap();
        assert!(bar.contains("M848 -24") && bar.contains("x=\"560\" width=\"560\""), "{bar}");
        assert!(drawn(&figure(53, true, None), true, "").unwrap().contains("M752 -24"));
        assert_eq!(html(&figure(53, true, None), false).matches("<rect").count(), 1);
    }

    /// A share that is counted in 1,000 has no picture of 100.
    #[test]
    fn what_is_counted_otherwise_is_not_drawn() {
        let unlike = Figure { share: None, ..figure(4, false, None) };
        assert_eq!((html(&unlike, false), drawn(&unlike, false, "")), (String::new(), None));
    }
}
