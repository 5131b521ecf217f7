//! The eye seen from above, to scale: measures of a model eye (from memory, Gullstrand's) with what was recorded of this one.

use super::outline::{Point, arc, area, ellipse, line, mirrored};
use super::{Role, Shape};
use crate::facts::Facts;

/// Length of the model eye, mm: what nobody measured is drawn so long.
const MODEL_LENGTH: f64 = 23.59;
/// What lies behind this is stretched along the axis in a longer or shorter eye, mm.
const STRETCHED_FROM: f64 = 4.9;
/// Centre of the globe in the model eye, radius of its wall and of the retina, mm.
const CENTRE: f64 = 13.09;
const WALL: f64 = 12.0;
const RETINA: f64 = 10.5;
/// Half the height at which the cornea meets the wall, mm.
const LIMBUS: f64 = 5.8;
/// The nerve leaves the eye so far off the axis, degrees.
const NERVE: f64 = 17.0;
/// Half the angle of the laser's cone, degrees.
const CONE: f64 = 8.0;
/// Where the laser begins on the drawing, mm.
const LASER_FROM: f64 = -8.0;
/// Back of an implant, of a natural lens, and the pupil plane, mm: distances of the floater count from there.
const IMPLANT_BACK: f64 = 5.6;
const LENS_BACK: f64 = 8.35;
const PUPIL: f64 = 3.65;
/// Extent of a floater along the axis where only one of its edges was measured, and its limits, mm.
const FLOATER: f64 = 2.7;
const LEAST_FLOATER: f64 = 0.8;
const MOST_FLOATER: f64 = 9.0;
/// The floater lies aslant, degrees; it is half as thick as long.
const TILT: f64 = 38.0;

/// What the drawing needs to know of this eye.
pub(super) struct Anatomy<'a> {
    facts: &'a Facts,
    length: f64,
    /// Where the distances from the lens begin, mm.
    zero: f64,
    /// Front and back edge of the floater, mm.
    floater: (f64, f64),
    /// Which of its distances is drawn as measured: `both`, `lens`, `retina` or `none`.
    pub(super) place: &'static str,
    /// Whether the gel has come away, wholly or in part.
    pub(super) detached: bool,
}

impl<'a> Anatomy<'a> {
    pub(super) fn of(facts: &'a Facts) -> Self {
        let length = facts.number("axial_length_mm").unwrap_or(MODEL_LENGTH);
        let zero = match facts.word("lens") {
            Some("natural") => LENS_BACK,
            Some("none") => PUPIL,
            _ => IMPLANT_BACK,
        };
        let front = facts.number("lens_distance_mm").map(|mm| zero + mm);
        let back = facts.number("retina_distance_mm").map(|mm| length - mm);
        let (floater, place) = extent(front, back, (zero + length) / 2.0);
        let detached = matches!(facts.word("detachment"), Some("partial" | "complete"));
        Self { facts, length, zero, floater, place, detached }
    }

    /// The word of a fact; what a draft does not hold yet is not known.
    fn word(&self, fact: &str) -> &str {
        self.facts.word(fact).unwrap_or("unknown")
    }

    /// From the back to the front.
    pub(super) fn section(&self) -> Vec<Shape> {
        let mut shapes = self.globe();
        shapes.push(self.contact_lens());
        shapes.push(self.laser());
        shapes.extend(self.lens());
        shapes.extend(self.floater());
        shapes
    }

    /// Wall, retina, nerve, gel, cornea, iris: what every eye has.
    pub(super) fn globe(&self) -> Vec<Shape> {
        let mut shapes = vec![
            area(Role::Nerve, self.nerve()),
            area(Role::Sclera, self.shell(WALL, LIMBUS)),
            area(Role::Choroid, self.shell(RETINA + 0.6, 6.2)),
            area(Role::Retina, self.shell(RETINA, 6.6)),
            area(Role::Chamber, self.chamber()),
        ];
        shapes.extend(self.gel());
        let outer = cornea(7.8, 7.8, LIMBUS);
        let inner = cornea(6.5, 7.05, LIMBUS - 0.4);
        shapes.push(area(Role::Cornea, outer.into_iter().chain(inner.into_iter().rev()).collect()));
        let ciliary = [[3.7, 5.2], [4.6, 5.4], [5.6, 6.2], [6.9, 8.3], [5.8, 7.6], [4.5, 6.3]];
        let iris = [[3.2, 3.5], [3.6, 3.4], [4.1, 5.3], [3.5, 5.4]];
        for (role, half) in [(Role::CiliaryBody, &ciliary[..]), (Role::Iris, &iris[..])] {
            shapes.push(area(role, half.to_vec()));
            shapes.push(area(role, mirrored(half)));
        }
        shapes
    }

    /// A layer of the wall, open towards the front at this height.
    fn shell(&self, radius: f64, open: f64) -> Vec<Point> {
        let half = 180.0 - (open / radius).asin().to_degrees();
        self.stretched(arc([CENTRE, 0.0], [radius, radius], -half, half))
    }

    /// What lies behind the lens moves with the length of the eye.
    fn stretched(&self, points: Vec<Point>) -> Vec<Point> {
        let by = (self.length - STRETCHED_FROM) / (MODEL_LENGTH - STRETCHED_FROM);
        let moved = |x: f64| if x > STRETCHED_FROM { STRETCHED_FROM + (x - STRETCHED_FROM) * by } else { x };
        points.into_iter().map(|[x, y]| [moved(x), y]).collect()
    }

    /// On the side of the nose: below for a right eye, above for a left one.
    fn nerve(&self) -> Vec<Point> {
        let (sin, cos) = NERVE.to_radians().sin_cos();
        let side = if self.word("side") == "left" { -1.0 } else { 1.0 };
        let at = |radius: f64, aside: f64| [CENTRE + radius * cos - aside * sin, side * (radius * sin + aside * cos)];
        let end = [at(RETINA + 5.4, 1.9), at(RETINA + 5.4, -1.9)];
        self.stretched(vec![at(RETINA, -1.0), at(RETINA, 1.0), at(WALL, 1.9), end[0], end[1], at(WALL, -1.9)])
    }

    /// The room between cornea and lens, as far as the gel begins.
    fn chamber(&self) -> Vec<Point> {
        let back = [[5.3, -6.1], [5.3, 6.1]];
        cornea(6.5, 7.05, LIMBUS - 0.4).into_iter().chain(back).collect()
    }

    /// In place it reaches the retina; a gel that has come away has a back face of its own and a space behind it.
    fn gel(&self) -> Vec<Shape> {
        let whole = self.shell(RETINA - 0.35, 6.4);
        if !self.detached {
            return vec![area(Role::Gel, whole)];
        }
        let face = match self.word("detachment") {
            // Still held at the nerve.
            "partial" => arc([9.5, 0.0], [13.0, 9.0], -70.0, 70.0),
            _ => arc([9.0, 0.0], [8.6, 9.4], -78.0, 78.0),
        };
        let inside = |[x, y]: &Point| (x - CENTRE).hypot(*y) <= RETINA - 0.5;
        let face = self.stretched(face.into_iter().filter(inside).collect());
        let mut front = self.stretched(arc([CENTRE, 0.0], [RETINA - 0.5, RETINA - 0.5], 106.0, 142.0));
        front.push([STRETCHED_FROM, 5.4]);
        let body = [face.clone(), front.clone(), mirrored(&front).into_iter().rev().collect()].concat();
        vec![area(Role::Space, whole), area(Role::Gel, body), line(Role::GelFace, face)]
    }

    /// What focuses the light, and the capsule behind an implant.
    pub(super) fn lens(&self) -> Vec<Shape> {
        let natural = || arc([6.6, 0.0], [1.75, 4.65], -90.0, 90.0);
        let front = || arc([6.6, 0.0], [2.75, 4.65], 90.0, 270.0);
        let outline: Vec<Point> = natural().into_iter().chain(front()).collect();
        match self.word("lens") {
            "natural" => vec![area(Role::Lens, outline), area(Role::LensCore, ellipse([6.3, 0.0], [1.2, 3.0], 0.0))],
            "implant" => self.implant(),
            "none" => Vec::new(),
            _ => vec![area(Role::LensUnknown, outline)],
        }
    }

    fn implant(&self) -> Vec<Shape> {
        let loops = [[5.0, 3.0], [4.8, 3.6], [5.1, 4.3], [5.5, 4.8], [5.3, 5.1]];
        let mut shapes = vec![
            line(Role::Implant, loops.to_vec()),
            line(Role::Implant, mirrored(&loops)),
            area(Role::Implant, ellipse([5.0, 0.0], [0.6, 3.0], 0.0)),
        ];
        if self.word("second_focus") == "yes" {
            shapes.push(line(Role::Rings, rings()));
        }
        shapes.extend(self.capsule());
        shapes
    }

    /// Whole, or with its ends at the measured opening; dashed where its state was not recorded.
    fn capsule(&self) -> Vec<Shape> {
        let (open, role) = match self.word("capsule") {
            "open" => (self.facts.number("opening_mm").unwrap_or(4.0) / 2.0, Role::Capsule),
            "closed_clear" | "closed_cloudy" => (0.0, Role::Capsule),
            _ => (0.0, Role::CapsuleUnknown),
        };
        let end = 5.0;
        let bulge = |y: f64| 5.3 + 0.75 * (1.0 - (y / end).powi(2));
        let half: Vec<Point> =
            (0..=10).map(|step| open + (end - open) * f64::from(step) / 10.0).map(|y| [bulge(y), y]).collect();
        if open >= end { Vec::new() } else { vec![line(role, half.clone()), line(role, mirrored(&half))] }
    }

    /// A cone that ends in the floater.
    fn laser(&self) -> Shape {
        let [x, y] = self.middle();
        let half = CONE.to_radians().tan() * (x - LASER_FROM);
        area(Role::Laser, vec![[LASER_FROM, -half], [x, y], [LASER_FROM, half]])
    }

    fn contact_lens(&self) -> Shape {
        let touching = arc([7.8, 0.0], [7.9, 7.9], -148.0, -212.0);
        let front = [[-0.4, 6.6], [-3.6, 6.6], [-3.6, -6.6], [-0.4, -6.6]];
        area(Role::ContactLens, touching.into_iter().chain(front).collect())
    }

    /// As its kind looks: a ring, a thread, grains, or a clump.
    pub(super) fn floater(&self) -> Vec<Shape> {
        let long = (self.floater.1 - self.floater.0) / 2.0 / 0.85;
        let whole = |part: f64| ellipse(self.middle(), [long * part, long * part / 2.0], -TILT);
        let grain = |at: &Point| area(Role::Floater, ellipse(*at, [0.22, 0.22], 0.0));
        match self.word("floater_kind") {
            "ring" => vec![line(Role::Floater, whole(1.0).into_iter().chain([whole(1.0)[0]]).collect())],
            "strand" => vec![line(Role::Floater, whole(1.0).into_iter().take(32).collect())],
            "asteroid" => whole(1.0).iter().step_by(7).chain(whole(0.5).iter().step_by(12)).map(grain).collect(),
            _ => vec![area(Role::Floater, whole(0.8)), line(Role::Floater, whole(1.0).into_iter().take(20).collect())],
        }
    }

    fn middle(&self) -> Point {
        [(self.floater.0 + self.floater.1) / 2.0, 0.0]
    }

    /// Height of the floater, mm, and its middle.
    pub(super) fn floater_height(&self) -> (Point, f64) {
        (self.middle(), (self.floater.1 - self.floater.0) * 0.86)
    }

    /// Where the retina lies on the axis, mm.
    pub(super) fn length(&self) -> f64 {
        self.length
    }

    /// Where the distances from the lens begin, mm.
    pub(super) fn zero(&self) -> f64 {
        self.zero
    }

    /// Front and back edge of the floater, mm.
    pub(super) fn edges(&self) -> (f64, f64) {
        self.floater
    }

    /// A line that stays so far before the retina, to this angle on both sides of the axis.
    pub(super) fn before_retina(&self, mm: f64, angle: f64) -> Vec<Point> {
        let [centre, _] = self.stretched(vec![[CENTRE, 0.0]])[0];
        let inwards = |[x, y]: Point| {
            let radius = (x - centre).hypot(y);
            let part = (radius - mm) / radius;
            [centre + (x - centre) * part, y * part]
        };
        self.stretched(arc([CENTRE, 0.0], [RETINA, RETINA], -angle, angle)).into_iter().map(inwards).collect()
    }

    pub(super) fn laser_mark(&self) -> Point {
        [LASER_FROM + 2.0, -1.2]
    }

    pub(super) fn lens_mark(&self) -> Point {
        if self.word("lens") == "none" { [STRETCHED_FROM, -2.6] } else { [5.0, -2.4] }
    }

    pub(super) fn floater_mark(&self) -> Point {
        [self.middle()[0], -(self.floater.1 - self.floater.0) * 0.2]
    }

    pub(super) fn contact_lens_mark(&self) -> Point {
        [-2.2, 5.4]
    }

    pub(super) fn gel_mark(&self) -> Point {
        if self.detached { self.stretched(vec![[17.6, 6.6]])[0] } else { self.stretched(vec![[11.0, 6.0]])[0] }
    }

    pub(super) fn retina_mark(&self) -> Point {
        self.stretched(arc([CENTRE, 0.0], [RETINA, RETINA], 38.0, 38.0))[0]
    }
}

/// Front and back edge of the floater, mm, and which of them was measured. If both cannot be true, that of the retina holds.
fn extent(front: Option<f64>, back: Option<f64>, middle: f64) -> ((f64, f64), &'static str) {
    match (front, back) {
        (Some(front), Some(back)) if (LEAST_FLOATER..=MOST_FLOATER).contains(&(back - front)) => {
            ((front, back), "both")
        }
        (_, Some(back)) => ((back - FLOATER, back), "retina"),
        (Some(front), None) => ((front, front + FLOATER), "lens"),
        (None, None) => ((middle - FLOATER / 2.0, middle + FLOATER / 2.0), "none"),
    }
}

/// A face of the cornea from below the axis to above it.
fn cornea(radius: f64, centre: f64, half_height: f64) -> Vec<Point> {
    let half = (half_height / radius).asin().to_degrees();
    arc([centre, 0.0], [radius, radius], 180.0 - half, 180.0 + half)
}

/// Teeth on the front of an implant.
fn rings() -> Vec<Point> {
    let tooth = |step: i32| {
        let y = f64::from(step) * 0.3;
        let face = 5.0 - 0.6 * (1.0 - (y / 3.0).powi(2)).max(0.0).sqrt();
        [if step % 2 == 0 { face } else { face - 0.35 }, y]
    };
    (-9..=9).map(tooth).collect()
}
