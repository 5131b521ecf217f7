//! This eye as a drawing: shapes in millimetres, computed from the facts. It knows neither paper nor colour; the layout and
//! the HTML page draw the same shapes.

mod anatomy;
mod marks;
mod outline;
mod shadow;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Inlines;
use super::sheet::{Built, Sheet};
use crate::facts::Facts;
use anatomy::Anatomy;
pub use marks::Mark;

/// A section of the eye, and what its floater does to sight.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct EyeSection {
    /// The eye with the laser coming in.
    pub section: Drawing,
    /// How the section is seen, and whether the place of the floater was measured.
    pub note: String,
    /// What is special in this eye, beside the section.
    pub beside: Vec<Inlines>,
    /// Light, the shadow of the floater on the retina, and what is seen of it.
    pub shadow: Drawing,
    /// What the second picture shows.
    pub shadow_note: String,
    /// What floaters are and what the laser does, beside the second picture.
    pub about: Vec<Inlines>,
}

/// A drawing in millimetres. `x` runs along the axis from the front of the cornea to the retina, `y` down the paper. It is
/// the same in languages of either direction: an eye has its front on the left.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Drawing {
    /// Left edge, mm.
    pub left: f64,
    /// Upper edge, mm.
    pub top: f64,
    /// Width, mm.
    pub width: f64,
    /// Height, mm.
    pub height: f64,
    /// What is drawn, from the back to the front.
    pub shapes: Vec<Shape>,
    /// Words beside it, from left to right within each row.
    pub labels: Vec<Label>,
    /// Alternative text: what this eye has.
    pub alt: String,
}

/// A line through points.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Shape {
    /// What it is.
    #[serde(rename = "kind")]
    pub role: Role,
    /// `x` and `y` of its points, mm.
    pub points: Vec<[f64; 2]>,
    /// Whether the last point is joined to the first.
    pub closed: bool,
}

/// What a shape is: the layout gives each its look.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Role {
    /// The white wall.
    Sclera,
    /// The layer under the retina.
    Choroid,
    /// The retina.
    Retina,
    /// The nerve of the eye, on the side of the nose.
    Nerve,
    /// The clear front.
    Cornea,
    /// The room in front of the lens.
    Chamber,
    /// The gel.
    Gel,
    /// The room behind a gel that has come away.
    Space,
    /// The back face of a gel that has come away.
    GelFace,
    /// The iris.
    Iris,
    /// The ciliary body.
    CiliaryBody,
    /// The natural lens.
    Lens,
    /// Its core.
    LensCore,
    /// A lens that is not recorded.
    LensUnknown,
    /// A lens implant.
    Implant,
    /// The rings of an implant with more than one focus.
    Rings,
    /// The capsule behind an implant.
    Capsule,
    /// A capsule of which the state is not recorded.
    CapsuleUnknown,
    /// The floater.
    Floater,
    /// The light of the laser.
    Laser,
    /// The contact lens that is held on the eye.
    ContactLens,
    /// Daylight that falls in.
    Ray,
    /// A shadow.
    Shadow,
    /// What is seen: the round field and lines of a page in it.
    Sight,
    /// A distance.
    Measure,
    /// Where what is kept free ends.
    Margin,
    /// A second focus.
    Focus,
}

/// A word with a line to a point of the drawing.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
pub struct Label {
    /// The word.
    pub text: String,
    /// `x` of the point, mm.
    pub x: f64,
    /// `y` of the point, mm.
    pub y: f64,
    /// Whether it stands above the drawing, else below.
    pub above: bool,
}

/// The section of this eye with its labels and both alternative texts; beside its drawings what is special in this eye, and
/// what floaters are.
pub(super) fn section(sheet: &Sheet, beside: Vec<Inlines>, about: Vec<Inlines>) -> Built<EyeSection> {
    let eye = Anatomy::of(sheet.facts);
    let values = [("place", eye.place)];
    let mut section = Drawing::around(eye.section(), sheet.text("section.alt", &values)?);
    section.labels = labels(sheet, &eye)?;
    Ok(EyeSection {
        section,
        note: sheet.text("section.note", &values)?,
        beside,
        shadow: Drawing::around(shadow::shapes(&eye), sheet.text("section.shadow_alt", &[])?),
        shadow_note: sheet.text("section.shadow_note", &[])?,
        about,
    })
}

/// The section with its distances, margins and second foci, for a screen that has its own words.
#[must_use]
pub fn drawing(facts: &Facts, alt: String) -> Drawing {
    let eye = Anatomy::of(facts);
    let mut shapes = eye.section();
    shapes.extend(marks::shapes(&eye, facts));
    Drawing::around(shapes, alt)
}

/// What [`drawing`] shows of this eye: each with its length in mm and a point of the drawing, mm.
#[must_use]
pub fn marks(facts: &Facts) -> Vec<(Mark, f64, [f64; 2])> {
    marks::places(&Anatomy::of(facts), facts)
}

impl Drawing {
    /// A drawing as large as what it holds, with room for the pen.
    fn around(shapes: Vec<Shape>, alt: String) -> Self {
        const PEN: f64 = 0.3;
        let points = || shapes.iter().flat_map(|shape| &shape.points);
        let least = |of: usize| points().map(|point| point[of]).fold(f64::INFINITY, f64::min) - PEN;
        let most = |of: usize| points().map(|point| point[of]).fold(f64::NEG_INFINITY, f64::max) + PEN;
        let (left, top) = (least(0), least(1));
        let (width, height) = (most(0) - left, most(1) - top);
        Self { left, top, width, height, shapes, labels: Vec::new(), alt }
    }
}

/// Three words above and three below, so that no line crosses another.
fn labels(sheet: &Sheet, eye: &Anatomy) -> Built<Vec<Label>> {
    let lens = format!("section.lens_{}", sheet.facts.choice("lens"));
    let gel = if eye.detached { "section.space" } else { "section.gel" };
    let rows = [
        ("section.laser", eye.laser_mark(), true),
        (lens.as_str(), eye.lens_mark(), true),
        ("section.floater", eye.floater_mark(), true),
        ("section.contact_lens", eye.contact_lens_mark(), false),
        (gel, eye.gel_mark(), false),
        ("section.retina", eye.retina_mark(), false),
    ];
    let label = |(key, [x, y], above): (&str, [f64; 2], bool)| Ok(Label { text: sheet.text(key, &[])?, x, y, above });
    rows.into_iter().map(label).collect()
}
