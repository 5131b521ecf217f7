//! Lines of the drawing as points, to a hundredth of a millimetre.

use super::{Role, Shape};

/// A point, mm.
pub(super) type Point = [f64; 2];

/// Points on a part of an ellipse around `centre`, from one angle to another in degrees: 0 points to the retina, 90 down.
pub(super) fn arc(centre: Point, radii: Point, from: f64, to: f64) -> Vec<Point> {
    let steps = ((to - from).abs() / 6.0).ceil().max(1.0);
    let at = |step: f64| {
        let angle = (from + (to - from) * step / steps).to_radians();
        [centre[0] + radii[0] * angle.cos(), centre[1] + radii[1] * angle.sin()]
    };
    std::iter::successors(Some(0.0), |step| Some(step + 1.0)).take_while(|step| *step <= steps).map(at).collect()
}

/// A whole ellipse whose long axis is turned by `tilt` degrees.
pub(super) fn ellipse(centre: Point, radii: Point, tilt: f64) -> Vec<Point> {
    let (sin, cos) = tilt.to_radians().sin_cos();
    let turned = |[x, y]: Point| [centre[0] + x * cos - y * sin, centre[1] + x * sin + y * cos];
    arc([0.0, 0.0], radii, 0.0, 354.0).into_iter().map(turned).collect()
}

/// The same points on the other side of the axis.
pub(super) fn mirrored(points: &[Point]) -> Vec<Point> {
    points.iter().map(|[x, y]| [*x, -y]).collect()
}

/// A filled shape.
pub(super) fn area(role: Role, points: Vec<Point>) -> Shape {
    Shape { role, points: rounded(points), closed: true }
}

/// An open line.
pub(super) fn line(role: Role, points: Vec<Point>) -> Shape {
    Shape { role, points: rounded(points), closed: false }
}

fn rounded(points: Vec<Point>) -> Vec<Point> {
    points.into_iter().map(|point| point.map(|mm| (mm * 100.0).round() / 100.0 + 0.0)).collect()
}
