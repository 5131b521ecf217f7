//! What a surgeon looks at before aiming: how far the floater lies from lens and retina, what is kept free before both, and
//! second foci. All of it to scale along the axis.

use super::anatomy::Anatomy;
use super::outline::{Point, area, line};
use super::{Role, Shape};
use crate::facts::Facts;

/// The distances are drawn so far above the axis, and end in ticks of this half length, mm.
const ABOVE: f64 = -5.0;
const TICK: f64 = 0.6;
/// Half the height of the line that keeps the lens free, and half the angle of that before the retina, degrees.
const LENS_MARGIN: f64 = 6.5;
const RETINA_MARGIN: f64 = 45.0;
/// Half a second focus, mm.
const FOCUS: f64 = 0.6;

/// A place on the drawing that a screen names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// From the lens, or the pupil of an eye without one, to the floater.
    LensDistance,
    /// From the floater to the retina.
    RetinaDistance,
    /// What is kept free behind the lens.
    Margin,
    /// The second focus in front of the target.
    FocusInFront,
    /// The second focus behind the target.
    FocusBehind,
}

/// The places that this eye has, each with a value and a point of the drawing, mm.
pub(super) fn places(eye: &Anatomy, facts: &Facts) -> Vec<(Mark, f64, Point)> {
    let value = |fact: &str| facts.number(fact);
    let (front, back) = eye.edges();
    let lens = value("lens_distance_mm").map(|mm| (Mark::LensDistance, mm, [eye.zero() + mm / 2.0, ABOVE]));
    let retina = value("retina_distance_mm").map(|mm| (Mark::RetinaDistance, mm, [eye.length() - mm / 2.0, ABOVE]));
    let margin = value("clearance_stop_mm").map(|mm| (Mark::Margin, mm, [eye.zero() + mm, LENS_MARGIN * 0.8]));
    let before = value("second_focus_front_mm").map(|mm| (Mark::FocusInFront, mm, [front - mm, 0.0]));
    let behind = value("second_focus_behind_mm").map(|mm| (Mark::FocusBehind, mm, [back + mm, 0.0]));
    [lens, retina, margin, before, behind].into_iter().flatten().collect()
}

/// The marks as shapes, from the back to the front.
pub(super) fn shapes(eye: &Anatomy, facts: &Facts) -> Vec<Shape> {
    places(eye, facts).into_iter().flat_map(|(mark, mm, at)| drawn(eye, mark, mm, at)).collect()
}

fn drawn(eye: &Anatomy, mark: Mark, mm: f64, [x, y]: Point) -> Vec<Shape> {
    match mark {
        Mark::LensDistance | Mark::RetinaDistance => measure(x - mm / 2.0, x + mm / 2.0),
        Mark::FocusInFront | Mark::FocusBehind => {
            vec![area(Role::Focus, vec![[x - FOCUS, y], [x, y - FOCUS], [x + FOCUS, y], [x, y + FOCUS]])]
        }
        Mark::Margin => vec![
            line(Role::Margin, vec![[x, -LENS_MARGIN], [x, LENS_MARGIN]]),
            line(Role::Margin, eye.before_retina(mm, RETINA_MARGIN)),
        ],
    }
}

/// A distance along the axis with a tick at each end.
fn measure(from: f64, to: f64) -> Vec<Shape> {
    let tick = |x: f64| line(Role::Measure, vec![[x, ABOVE - TICK], [x, ABOVE + TICK]]);
    vec![line(Role::Measure, vec![[from, ABOVE], [to, ABOVE]]), tick(from), tick(to)]
}
