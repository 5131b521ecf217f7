//! Charts of counts as SVG, for a browser and for paper: a range, a curve against a limit, a funnel, dots over time.
//!
//! Colours stand beside each line for paper; a style sheet may set others by the classes `axis`, `line`, `limit`, `mark`,
//! `label` and `limit-label`. Each picture has its alternative text, and carries nothing by colour alone.

use std::collections::HashSet;
use std::fmt::Write;

use super::colours::{ACCENT, DANGER, INK, RULE};
use super::drawing::escape;

/// A share with its interval, as parts of the scale from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Lower limit.
    pub low: f64,
    /// The share.
    pub share: f64,
    /// Upper limit.
    pub high: f64,
}

/// A range on a scale that ends at `most`, with four ticks.
///
/// ```
/// use vitreoleaf::render::charts::{Range, range};
///
/// let drawn = range(Range { low: 0.005, share: 0.025, high: 0.073 }, 0.2, "3 of 118, could be 0.5 to 7.3 in 100");
/// assert!(drawn.starts_with("<svg") && drawn.contains("could be 0.5 to 7.3 in 100"));
/// ```
#[must_use]
pub fn range(range: Range, most: f64, alt: &str) -> String {
    let mut chart = Chart::new(260.0, 22.0, alt);
    let x = |share: f64| 5.0 + 250.0 * (share / most).clamp(0.0, 1.0);
    chart.line("axis", RULE, 0.5, &[(x(0.0), 11.0), (x(most), 11.0)]);
    for tick in 0..=4 {
        let at = x(most * f64::from(tick) / 4.0);
        chart.line("axis", RULE, 0.5, &[(at, 6.0), (at, 16.0)]);
    }
    chart.line("line", INK, 3.0, &[(x(range.low), 11.0), (x(range.high), 11.0)]);
    for end in [range.low, range.high] {
        chart.line("line", INK, 2.0, &[(x(end), 5.0), (x(end), 17.0)]);
    }
    chart.square("mark", ACCENT, x(range.share), 11.0, 4.0);
    chart.drawn()
}

/// A curve against a limit, one point an eye.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve<'a> {
    /// Height of the curve, and whether a mark stands there.
    pub points: &'a [(f64, bool)],
    /// The limit.
    pub limit: f64,
    /// Words at the limit.
    pub limit_says: &'a str,
    /// What the axis below counts.
    pub below: &'a str,
    /// Alternative text.
    pub alt: &'a str,
}

/// Draws a curve.
#[must_use]
pub fn curve(curve: &Curve) -> String {
    let highest = curve.points.iter().map(|(height, _)| *height).fold(curve.limit, f64::max) * 1.15;
    let plot = Plot { most_x: curve.points.len().max(1) as f64, most_y: highest.max(0.1) };
    let mut chart = Chart::new(Plot::WIDTH, Plot::HEIGHT, curve.alt);
    plot.axes(&mut chart, curve.below, short);
    let at = |(eye, (height, _)): (usize, &(f64, bool))| plot.at((eye + 1) as f64, *height);
    let mut line = vec![plot.at(0.0, 0.0)];
    line.extend(curve.points.iter().enumerate().map(at));
    chart.line("line", ACCENT, 2.0, &thinned(&line));
    let marked = curve.points.iter().enumerate().filter(|(_, (_, marked))| *marked).map(at);
    for (x, y) in apart(marked, 1.0) {
        chart.square("mark", ACCENT, x, y, 3.5);
    }
    let (left, y) = plot.at(0.0, curve.limit);
    chart.dashed("limit", DANGER, &[(left, y), (plot.at(plot.most_x, 0.0).0, y)]);
    chart.word("limit-label", DANGER, (Plot::WIDTH - Plot::RIGHT, y - 6.0), "end", curve.limit_says);
    chart.drawn()
}

/// One point of a funnel.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Name.
    pub name: String,
    /// Size, n.
    pub size: u32,
    /// Share, k of n.
    pub share: f64,
}

/// Points against the limits of chance.
#[derive(Debug, Clone, PartialEq)]
pub struct Funnel<'a> {
    /// The points.
    pub spots: &'a [Spot],
    /// The share of all.
    pub share: f64,
    /// Sizes, each with the lower and upper limits, inner and outer, as shares.
    pub limits: &'a [(u32, [f64; 4])],
    /// What stands at the inner and at the outer limits.
    pub limits_say: [&'a str; 2],
    /// What the axis below counts.
    pub below: &'a str,
    /// Alternative text.
    pub alt: &'a str,
}

/// Draws a funnel.
#[must_use]
pub fn funnel(funnel: &Funnel) -> String {
    let widest = funnel.spots.iter().map(|spot| spot.size).max().unwrap_or(1);
    let highest = funnel.spots.iter().map(|spot| spot.share).fold(funnel.share * 4.0, f64::max).clamp(0.05, 1.0);
    let plot = Plot { most_x: f64::from(widest) * 1.1, most_y: highest };
    let mut chart = Chart::new(Plot::WIDTH, Plot::HEIGHT, funnel.alt);
    plot.axes(&mut chart, funnel.below, |value| format!("{:.0} %", value * 100.0));
    let along = |of: usize| {
        let points = funnel.limits.iter().map(|(size, limits)| (f64::from(*size), limits[of]));
        points.filter(|(_, limit)| *limit <= highest).map(|(size, limit)| plot.at(size, limit)).collect::<Vec<_>>()
    };
    for of in 0..4 {
        let (class, colour) = if of < 2 { ("axis", RULE) } else { ("limit", DANGER) };
        let (class_of_word, ink) = if of < 2 { ("label", INK) } else { ("limit-label", DANGER) };
        let line = along(of);
        chart.dashed(class, colour, &line);
        if let Some((x, y)) = line.last().filter(|_| of % 2 == 1) {
            chart.word(class_of_word, ink, (x + 5.0, y + 4.0), "start", funnel.limits_say[of / 2]);
        }
    }
    chart.line("axis", RULE, 1.0, &[plot.at(0.0, funnel.share), plot.at(plot.most_x, funnel.share)]);
    for spot in funnel.spots {
        let (x, y) = plot.at(f64::from(spot.size), spot.share);
        chart.square("mark", ACCENT, x, y, 4.0);
        let end = if x > Plot::WIDTH / 2.0 { "end" } else { "start" };
        let away = if spot.share < funnel.share { 17.0 } else { -8.0 }; // from the line of all
        chart.word("label", INK, (x + if end == "end" { -8.0 } else { 8.0 }, y + away), end, &spot.name);
    }
    chart.drawn()
}

/// Values over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Dots<'a> {
    /// Where in time, from 0 to 1, and the value.
    pub dots: &'a [(f64, f64)],
    /// What stands at both ends of time.
    pub ends: (&'a str, &'a str),
    /// What the axis below counts.
    pub below: &'a str,
    /// Alternative text.
    pub alt: &'a str,
}

/// Draws values over time.
#[must_use]
pub fn dots(dots: &Dots) -> String {
    let highest = dots.dots.iter().map(|(_, value)| *value).fold(1.0, f64::max) * 1.1;
    let plot = Plot { most_x: 1.0, most_y: highest };
    let mut chart = Chart::new(Plot::WIDTH, Plot::HEIGHT, dots.alt);
    plot.frame(&mut chart, dots.below, short);
    let foot = Plot::HEIGHT - Plot::FOOT + 16.0;
    chart.word("label", INK, (Plot::LEFT, foot), "start", dots.ends.0);
    chart.word("label", INK, (Plot::WIDTH - Plot::RIGHT, foot), "end", dots.ends.1);
    let places = dots.dots.iter().map(|(when, value)| plot.at(*when, *value));
    chart.squares("mark", ACCENT, &apart(places, 1.5), 1.5);
    chart.drawn()
}

/// A line without the points that its width hides: of those in one column of half a unit, the first, the highest, the lowest
/// and the last.
fn thinned(line: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let column = |point: &(f64, f64)| (point.0 * 2.0) as i64;
    let mut thinned = Vec::new();
    for points in line.chunk_by(|one, other| column(one) == column(other)) {
        let mut kept: Vec<usize> = vec![0, points.len() - 1];
        kept.extend((0..points.len()).min_by(|one, other| points[*one].1.total_cmp(&points[*other].1)));
        kept.extend((0..points.len()).max_by(|one, other| points[*one].1.total_cmp(&points[*other].1)));
        kept.sort_unstable();
        kept.dedup();
        thinned.extend(kept.into_iter().map(|at| points[at]));
    }
    thinned
}

/// Places without those that fall on another one, on a grid of this width.
fn apart(places: impl Iterator<Item = (f64, f64)>, grid: f64) -> Vec<(f64, f64)> {
    let mut taken = HashSet::new();
    places.filter(|(x, y)| taken.insert(((x / grid) as i64, (y / grid) as i64))).collect()
}

/// Where an axis from nothing has its ticks: at steps of 1, 2 or 5 with zeros, and of no less than this; five at most.
fn ticks(most: f64, least: f64) -> impl Iterator<Item = f64> {
    let power = 10_f64.powf((most / 5.0).log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|of| of * power).into_iter().find(|step| most / step <= 5.0);
    let step = step.unwrap_or(most).max(least);
    (0..=(most / step) as u32).map(move |tick| f64::from(tick) * step)
}

/// A value at a tick, with a decimal if it needs one.
fn short(value: f64) -> String {
    let written = format!("{value:.1}");
    written.strip_suffix(".0").map(str::to_owned).unwrap_or(written)
}

/// Two axes from nothing.
struct Plot {
    most_x: f64,
    most_y: f64,
}

impl Plot {
    const WIDTH: f64 = 720.0;
    const HEIGHT: f64 = 230.0;
    const LEFT: f64 = 52.0;
    const RIGHT: f64 = 16.0;
    const TOP: f64 = 12.0;
    const FOOT: f64 = 42.0;

    fn at(&self, x: f64, y: f64) -> (f64, f64) {
        let (wide, high) = (Self::WIDTH - Self::LEFT - Self::RIGHT, Self::HEIGHT - Self::TOP - Self::FOOT);
        (Self::LEFT + wide * x / self.most_x, Self::TOP + high * (1.0 - y / self.most_y))
    }

    fn frame(&self, chart: &mut Chart, below: &str, written: impl Fn(f64) -> String) {
        chart.line("axis", RULE, 1.0, &[self.at(0.0, self.most_y), self.at(0.0, 0.0), self.at(self.most_x, 0.0)]);
        for value in ticks(self.most_y, 0.0) {
            let (x, y) = self.at(0.0, value);
            chart.line("axis", RULE, 0.5, &[(x - 4.0, y), (x, y)]);
            chart.word("label", INK, (x - 8.0, y + 4.0), "end", &written(value));
        }
        let end = (Self::WIDTH - Self::RIGHT, Self::HEIGHT - 6.0);
        chart.word("label", INK, end, "end", below);
    }

    fn axes(&self, chart: &mut Chart, below: &str, written: impl Fn(f64) -> String) {
        self.frame(chart, below, written);
        for value in ticks(self.most_x, 1.0) {
            let (x, y) = self.at(value, 0.0);
            chart.word("label", INK, (x, y + 16.0), "middle", &format!("{value:.0}"));
        }
    }
}

/// A picture that is being drawn.
struct Chart(String);

impl Chart {
    fn new(width: f64, height: f64, alt: &str) -> Self {
        Self(format!(
            "<svg class=\"chart\" role=\"img\" aria-label=\"{}\" viewBox=\"0 0 {width} {height}\" \
             font-family=\"Noto Sans\" font-size=\"13\">",
            escape(alt)
        ))
    }

    fn path(points: &[(f64, f64)]) -> String {
        let points: Vec<String> = points.iter().map(|(x, y)| format!("{x:.1} {y:.1}")).collect();
        format!("M{}", points.join("L"))
    }

    fn line(&mut self, class: &str, colour: &str, width: f64, points: &[(f64, f64)]) {
        let path = Self::path(points);
        let _ = write!(
            self.0,
            "<path class=\"{class}\" d=\"{path}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"{width}\"/>"
        );
    }

    fn dashed(&mut self, class: &str, colour: &str, points: &[(f64, f64)]) {
        if points.len() < 2 {
            return;
        }
        let path = Self::path(points);
        let _ = write!(
            self.0,
            "<path class=\"{class}\" d=\"{path}\" fill=\"none\" stroke=\"{colour}\" stroke-width=\"1.5\" \
             stroke-dasharray=\"6 4\"/>"
        );
    }

    fn square(&mut self, class: &str, colour: &str, x: f64, y: f64, half: f64) {
        let (left, top, side) = (x - half, y - half, 2.0 * half);
        let _ = write!(
            self.0,
            "<rect class=\"{class}\" x=\"{left:.1}\" y=\"{top:.1}\" width=\"{side}\" height=\"{side}\" fill=\"{colour}\"/>"
        );
    }

    /// Squares as one shape: there may be many.
    fn squares(&mut self, class: &str, colour: &str, places: &[(f64, f64)], half: f64) {
        let side = 2.0 * half;
        let _ = write!(self.0, "<path class=\"{class}\" fill=\"{colour}\" d=\"");
        for (x, y) in places {
            let _ = write!(self.0, "M{:.1} {:.1}h{side}v{side}h-{side}z", x - half, y - half);
        }
        self.0.push_str("\"/>");
    }

    fn word(&mut self, class: &str, colour: &str, (x, y): (f64, f64), anchor: &str, text: &str) {
        let text = escape(text);
        let _ = write!(
            self.0,
            "<text class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\" text-anchor=\"{anchor}\" fill=\"{colour}\">{text}</text>"
        );
    }

    fn drawn(mut self) -> String {
        self.0.push_str("</svg>");
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_is_text_in_a_picture_too() {
        let spots = [Spot { name: "<b>&\"".into(), size: 10, share: 0.1 }];
        let drawn = funnel(&Funnel {
            spots: &spots,
            share: 0.1,
            limits: &[],
            limits_say: ["95 %", "99.8 %"],
            below: "eyes",
            alt: "\"x\" <y>",
        });
        assert!(drawn.contains("&lt;b&gt;&amp;&quot;") && drawn.contains("aria-label=\"&quot;x&quot; &lt;y&gt;\""));
    }

    #[test]
    fn each_harm_is_marked_and_the_limit_is_always_on_the_picture() {
        let points = [(0.0, false), (0.98, true), (0.93, false), (1.91, true)];
        let drawn = curve(&Curve { points: &points, limit: 2.8, limit_says: "limit 2.8", below: "eyes", alt: "x" });
        assert_eq!(drawn.matches("<rect").count(), 2);
        assert!(drawn.contains("limit 2.8</text>"));
        let nobody = curve(&Curve { points: &[], limit: 2.8, limit_says: "limit 2.8", below: "eyes", alt: "x" });
        assert!(!nobody.contains("NaN") && !nobody.contains("inf"), "{nobody}");
    }

    #[test]
    fn many_points_keep_their_highest_and_each_place_is_drawn_once() {
        let points: Vec<(f64, bool)> =
            (0..100_000).map(|eye| (if eye == 54_321 { 2.7 } else { 0.0 }, eye % 9 == 0)).collect();
        let all = Curve { points: &points, limit: 2.8, limit_says: "limit", below: "eyes", alt: "x" };
        let drawn = curve(&all);
        assert!(drawn.len() < 150_000, "{}", drawn.len());
        let plot = Plot { most_x: 100_000.0, most_y: 2.8 * 1.15 };
        let (x, y) = plot.at(54_322.0, 2.7);
        assert!(drawn.contains(&format!("{x:.1} {y:.1}")));
        let few = thinned(&[(0.0, 1.0), (1.0, 2.0), (2.0, 1.0)]);
        assert_eq!(few, [(0.0, 1.0), (1.0, 2.0), (2.0, 1.0)], "few points are all drawn");
        let twice = dots(&Dots { dots: &[(0.5, 3.0), (0.5, 3.0), (0.9, 3.0)], ends: ("a", "b"), below: "c", alt: "x" });
        assert_eq!(twice.matches('M').count() - twice.matches("d=\"M").count(), 2 - 1, "{twice}");
    }

    #[test]
    fn ticks_stand_at_round_steps() {
        for (most, least, expected) in [
            (177.0, 1.0, &[0.0, 50.0, 100.0, 150.0][..]),
            (1307.0, 0.0, &[0.0, 500.0, 1000.0]),
            (3.2, 0.0, &[0.0, 1.0, 2.0, 3.0]),
            (5.0, 0.0, &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0]),
            (1.0, 1.0, &[0.0, 1.0]),
            (0.6, 1.0, &[0.0]),
        ] {
            assert_eq!(ticks(most, least).collect::<Vec<_>>(), expected, "{most}");
        }
    }

    #[test]
    fn a_limit_off_the_picture_is_not_drawn_at_its_edge() {
        let spots = [Spot { name: "A".into(), size: 100, share: 0.1 }];
        let limits = [(10, [0.0, 0.5, 0.0, 0.9]), (50, [0.0, 0.2, 0.0, 0.9]), (100, [0.02, 0.18, 0.0, 0.25])];
        let says = ["inner", "outer"];
        let drawn = Funnel { spots: &spots, share: 0.1, limits: &limits, limits_say: says, below: "eyes", alt: "x" };
        let drawn = funnel(&drawn);
        assert_eq!(drawn.matches("stroke-dasharray").count(), 3, "of the outer upper limit one point is too few");
        assert!(drawn.contains("inner</text>") && drawn.contains("outer</text>"));
    }

    #[test]
    fn a_range_beyond_its_scale_ends_at_it() {
        let drawn = range(Range { low: 0.1, share: 0.3, high: 0.6 }, 0.2, "x");
        assert!(drawn.contains("255.0 11.0") && !drawn.contains("NaN"));
    }
}
