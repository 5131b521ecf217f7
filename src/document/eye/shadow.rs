//! What the floater does to sight: light falls in, its shadow falls on the retina, and a dark shape stands before the page.

use super::anatomy::Anatomy;
use super::outline::{Point, area, ellipse, line};
use super::{Role, Shape};

/// From the retina to the middle of the round field, and its radius, mm.
const FIELD_AFTER: f64 = 17.0;
const FIELD: f64 = 9.5;

/// The eye with rays and shadow, beside it what is seen.
pub(super) fn shapes(eye: &Anatomy) -> Vec<Shape> {
    let mut shapes = eye.globe();
    shapes.extend(eye.lens());
    shapes.extend(light(eye));
    shapes.extend(eye.floater());
    shapes.extend(sight([eye.length() + FIELD_AFTER, 0.0]));
    shapes
}

/// Rays pass the floater, and its shadow reaches the retina.
fn light(eye: &Anatomy) -> Vec<Shape> {
    let ([x, _], height) = eye.floater_height();
    let half = height / 2.0;
    let shadow = vec![[x, -half], [eye.length(), -half], [eye.length(), half], [x, half]];
    let ray = |y: f64, end: f64| line(Role::Ray, vec![[-6.0, y], [end, y]]);
    let past = [-1.6, 1.6].map(|part| ray(half * part, eye.length() - 0.4));
    let met = [-0.5, 0.5].map(|part| ray(half * part, x));
    std::iter::once(area(Role::Shadow, shadow)).chain(past).chain(met).collect()
}

/// A round field with lines of a page, and the shadow in front of them.
fn sight(middle: Point) -> Vec<Shape> {
    let mut shapes = vec![area(Role::Sight, ellipse(middle, [FIELD, FIELD], 0.0))];
    for row in -3..=3 {
        let y = f64::from(row) * 2.3;
        let half = (FIELD * FIELD - y * y).sqrt() - 1.8;
        shapes.push(line(Role::Sight, vec![[middle[0] - half, y], [middle[0] + half, y]]));
    }
    shapes.push(area(Role::Shadow, ellipse(middle, [4.2, 2.8], -25.0)));
    shapes
}
