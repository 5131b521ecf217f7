//! A drawing of the eye as SVG, the same in a browser and on paper; its looks stand here and nowhere else.

use std::fmt::Write;

use super::colours::{ACCENT, CLEAR, DANGER, INK, MIST, NERVE, RETINA, RULE, WHITE};
use crate::document::eye::{Drawing, Label, Role, Shape};

/// How labels are set, in millimetres of the eye: the size of a letter, the distance of lines, and the room for them above and
/// below.
struct Lettering {
    letter: f64,
    line: f64,
    room: f64,
}

/// Labels in words, up to three lines each.
const WORDS: Lettering = Lettering { letter: 1.25, line: 1.6, room: 6.3 };

/// Labels that are numbers, to be read in a small drawing; what they stand for is listed beside it.
const NUMBERS: Lettering = Lettering { letter: 2.6, line: 2.4, room: 3.4 };

/// Most letters in a line of a label.
const LETTERS: usize = 14;

/// How lines end and meet.
const PEN: &str = "stroke-linejoin=\"round\" stroke-linecap=\"round\"";

/// The shapes alone as a file of its own: on paper the layout sets the words.
#[must_use]
pub fn file(drawing: &Drawing) -> String {
    let Drawing { left, top, width, height, .. } = drawing;
    let mut svg = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"{left:.2} {top:.2} {width:.2} {height:.2}\" fill=\"none\" {PEN}>"
    );
    drawing.shapes.iter().for_each(|shape| path(&mut svg, shape));
    svg.push_str("</svg>");
    svg
}

/// The drawing as one picture with its alternative text, as wide as there is room.
#[must_use]
pub fn svg(drawing: &Drawing) -> String {
    picture(drawing, &WORDS)
}

/// The same with a number for each label, from 1 in their order.
#[must_use]
pub fn numbered(drawing: &Drawing) -> String {
    let mut numbered = drawing.clone();
    numbered.labels.iter_mut().zip(1..).for_each(|(label, number)| label.text = number.to_string());
    picture(&numbered, &NUMBERS)
}

fn picture(drawing: &Drawing, lettering: &Lettering) -> String {
    let room = if drawing.labels.is_empty() { 0.0 } else { lettering.room };
    let view = format!(
        "{:.2} {:.2} {:.2} {:.2}",
        drawing.left,
        drawing.top - room,
        drawing.width,
        drawing.height + 2.0 * room
    );
    let mut svg = format!(
        "<svg class=\"eye\" role=\"img\" aria-label=\"{}\" viewBox=\"{view}\" \
         fill=\"none\" {PEN}>",
        escape(&drawing.alt)
    );
    drawing.shapes.iter().for_each(|shape| path(&mut svg, shape));
    for above in [true, false] {
        let row: Vec<&Label> = drawing.labels.iter().filter(|label| label.above == above).collect();
        for (at, label) in row.iter().enumerate() {
            let middle = drawing.left + drawing.width * (at as f64 + 0.5) / row.len() as f64;
            words(&mut svg, drawing, label, middle, lettering);
        }
    }
    svg.push_str("</svg>");
    svg
}

fn path(svg: &mut String, shape: &Shape) {
    let points: Vec<String> = shape.points.iter().map(|[x, y]| format!("{x} {y}")).collect();
    let end = if shape.closed { "z" } else { "" };
    let _ = write!(svg, "<path d=\"M{}{end}\" {}/>", points.join("L"), look(shape.role, shape.closed));
}

/// Fill, pen and its width in millimetres of the eye. No paint is transparent: what lies
/// below would mix into colours nobody chose, and a copier into greys.
fn look(role: Role, closed: bool) -> String {
    let (fill, pen, width, dashed) = match role {
        Role::Sclera => (WHITE, INK, 0.14, false),
        Role::Choroid => (WHITE, "none", 0.0, false),
        Role::Retina => (RETINA, INK, 0.1, false),
        Role::Nerve => (NERVE, INK, 0.1, false),
        Role::Cornea => (CLEAR, INK, 0.12, false),
        Role::Chamber | Role::Space => (WHITE, "none", 0.0, false),
        Role::Gel => (MIST, "none", 0.0, false),
        Role::GelFace => ("none", ACCENT, 0.14, true),
        Role::Iris => (ACCENT, INK, 0.1, false),
        Role::CiliaryBody => (RULE, INK, 0.08, false),
        Role::Lens => (CLEAR, INK, 0.14, false),
        Role::LensCore => (RULE, INK, 0.08, false),
        Role::LensUnknown => ("none", INK, 0.14, true),
        Role::Implant => (WHITE, INK, 0.2, false),
        Role::Rings => ("none", ACCENT, 0.16, false),
        Role::Capsule => ("none", INK, 0.16, false),
        Role::CapsuleUnknown => ("none", INK, 0.14, true),
        Role::Floater => (INK, INK, 0.3, false),
        Role::Laser => (CLEAR, ACCENT, 0.1, false),
        Role::ContactLens => (MIST, RULE, 0.1, false),
        Role::Ray => ("none", ACCENT, 0.14, false),
        Role::Shadow => (RULE, "none", 0.0, false),
        Role::Sight => (WHITE, INK, 0.2, false),
        Role::Measure => ("none", INK, 0.16, false),
        Role::Margin => ("none", DANGER, 0.16, true),
        Role::Focus => (WHITE, INK, 0.18, false),
    };
    let fill = if closed { fill } else { "none" };
    let dash = if dashed { " stroke-dasharray=\"0.5 0.4\"" } else { "" };
    format!("fill=\"{fill}\" stroke=\"{pen}\" stroke-width=\"{width}\"{dash}")
}

/// A label in lines, and a leader with a dot.
fn words(svg: &mut String, drawing: &Drawing, label: &Label, middle: f64, lettering: &Lettering) {
    let Lettering { letter, line, .. } = lettering;
    let lines = wrapped(&label.text);
    let high = line * lines.len() as f64;
    let (foot, top) = match label.above {
        true => (drawing.top - 0.6, drawing.top - 0.6 - high),
        false => (drawing.top + drawing.height + 0.6, drawing.top + drawing.height + 0.6),
    };
    let _ = write!(
        svg,
        "<path d=\"M{middle:.2} {foot:.2}L{} {}\" stroke=\"{INK}\" stroke-width=\"0.1\"/>\
         <circle cx=\"{}\" cy=\"{}\" r=\"0.25\" fill=\"{INK}\"/>",
        label.x, label.y, label.x, label.y
    );
    for (at, text) in lines.iter().enumerate() {
        let y = top + line * at as f64 + letter;
        let _ = write!(
            svg,
            "<text x=\"{middle:.2}\" y=\"{y:.2}\" font-size=\"{letter}\" font-weight=\"bold\" text-anchor=\"middle\" \
             fill=\"{INK}\">{}</text>",
            escape(text)
        );
    }
}

/// Words in lines of a few letters.
fn wrapped(text: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split(' ') {
        match lines.last_mut() {
            Some(line) if line.chars().count() + word.chars().count() < LETTERS => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// Text is data: what HTML would read as markup is written as itself.
pub(crate) fn escape(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}
