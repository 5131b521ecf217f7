//! The geometry of laid-out pages: no text leaves the paper, is cut off, or stands on other text or on a line.
//!
//! The layout engine is content to print a word beyond its column. A page on which a dose or a number cannot be read must
//! not leave the printer, so this looks at the shapes of the letters, whatever text or layout a practice brings.

use typst::layout::{Abs, Frame, FrameItem, Point, Rect, Transform};
use typst::text::TextItem;
use typst::visualize::{Geometry, Shape};
use typst_layout::PagedDocument;

use super::error::{Fault, RenderError};

/// Text keeps this far from the edge of the paper: what printers commonly cannot reach (common practice, no source).
const EDGE: f64 = 5.0 * POINTS_PER_MM;

/// How far the letters of a run may hang over to each side, as a part of the size of type.
const OVERHANG: f64 = 0.1;

/// Most of a run's own width and height that may reach into neighbours: marks above capitals, tails into the line below.
const RIM: f64 = 0.2;

/// Letters that join, such as Arabic ones, are painted piece by piece from left to right. Pieces of one word are this near,
/// and a dot may come before the letter that holds it, the widest of which is this wide: parts of the size of type.
const NEAR: f64 = 0.5;
const WIDEST: f64 = 1.2;

/// Marks are raised or lowered by less than this, and the next line is further down: a part of the size of type.
const RAISED: f64 = 0.8;

const POINTS_PER_MM: f64 = 72.0 / 25.4;

/// The last part of a page, which belongs to its foot.
const FOOT: f64 = 0.1;

/// Looks at every page. Gives how far down its text reaches, as a part of its height without the foot.
///
/// # Errors
/// The first place where text cannot be read, by page and millimetres: the text itself may be private.
pub(super) fn check(paged: &PagedDocument) -> Result<Vec<f64>, RenderError> {
    let mut reach = Vec::new();
    for (page, number) in paged.pages().iter().zip(1..) {
        let size = page.frame.size();
        let paper = Area { left: 0.0, top: 0.0, right: size.x.to_pt(), bottom: size.y.to_pt() };
        let mut drawn = Drawn::default();
        drawn.gather(&page.frame, Transform::identity(), paper.core(EDGE, EDGE));
        if let Some((fault, area)) = drawn.fault() {
            let (right, down) = (area.left / POINTS_PER_MM, area.top / POINTS_PER_MM);
            return Err(RenderError::Geometry { page: number, right, down, fault });
        }
        reach.push(drawn.reach((1.0 - FOOT) * paper.bottom));
    }
    Ok(reach)
}

/// What has a place on a page, in points from its upper left corner.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Area {
    left: f64,
    top: f64,
    right: f64,
    bottom: f64,
}

impl Area {
    fn of(rect: Rect, on_page: Transform) -> Self {
        let Rect { min, max } = rect;
        let corners = [min, max, Point::new(min.x, max.y), Point::new(max.x, min.y)].map(|it| it.transform(on_page));
        let least = |of: fn(&Point) -> Abs| corners.iter().map(of).fold(f64::INFINITY, |a, b| a.min(b.to_pt()));
        let most = |of: fn(&Point) -> Abs| corners.iter().map(of).fold(f64::NEG_INFINITY, |a, b| a.max(b.to_pt()));
        Self { left: least(|it| it.x), top: least(|it| it.y), right: most(|it| it.x), bottom: most(|it| it.y) }
    }

    /// Without a rim of this width and height.
    fn core(self, aside: f64, above: f64) -> Self {
        Self { left: self.left + aside, top: self.top + above, right: self.right - aside, bottom: self.bottom - above }
    }

    fn both(self, other: Self) -> Self {
        Self {
            left: self.left.max(other.left),
            top: self.top.max(other.top),
            right: self.right.min(other.right),
            bottom: self.bottom.min(other.bottom),
        }
    }

    fn with(self, other: Self) -> Self {
        Self {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    fn meets(self, other: Self) -> bool {
        let both = self.both(other);
        both.left < both.right && both.top < both.bottom
    }

    fn within(self, other: Self) -> bool {
        self.both(other) == self
    }
}

/// A run of text.
struct Run {
    area: Area,
    /// Of the type, points.
    size: f64,
    /// Of its first piece, points from the top.
    baseline: f64,
    /// What the paper and the frames around leave to see.
    visible: Area,
    order: usize,
}

impl Run {
    /// The middle of the area: what nothing else may touch.
    fn core(&self) -> Area {
        let (width, height) = (self.area.right - self.area.left, self.area.bottom - self.area.top);
        self.area.core((OVERHANG * self.size).min(RIM * width), RIM * height)
    }

    /// Whether the next piece belongs to the same word. A letter that comes after its dot reaches up to it: one that ends
    /// further to the left belongs to another word, and what stands between them is no part of either.
    fn continues(&self, next: Area, baseline: f64) -> bool {
        let near = NEAR * self.size;
        let beside = self.area.left - WIDEST * self.size..self.area.right + near;
        let reaches = next.right > self.area.left - near;
        reaches && beside.contains(&next.left) && (baseline - self.baseline).abs() < RAISED * self.size
    }
}

/// What one page shows, in the order in which it is painted.
#[derive(Default)]
struct Drawn {
    runs: Vec<Run>,
    /// Lines along the edges of the paper. Slanting ones belong to drawings.
    lines: Vec<(usize, Area)>,
    /// Filled areas, which hide what was painted before.
    fillings: Vec<(usize, Area)>,
    order: usize,
    /// The last run is a word that the next piece may go on with.
    open: bool,
}

impl Drawn {
    fn gather(&mut self, frame: &Frame, on_page: Transform, visible: Area) {
        for (place, item) in frame.items() {
            let here = on_page.pre_concat(Transform::translate(place.x, place.y));
            self.order += 1;
            match item {
                FrameItem::Group(group) => {
                    let inside = here.pre_concat(group.transform);
                    let window = group.clip.as_ref().map(|clip| Area::of(clip.bbox(None), inside));
                    self.gather(&group.frame, inside, window.map_or(visible, |window| visible.both(window)));
                }
                FrameItem::Text(text) => self.run(text, here, visible),
                FrameItem::Shape(shape, _) => self.shape(shape, here),
                FrameItem::Image(..) | FrameItem::Link(..) | FrameItem::Tag(_) => {}
            }
        }
    }

    fn run(&mut self, text: &TextItem, here: Transform, visible: Area) {
        let (area, size) = (Area::of(text.bbox(), here), text.size.to_pt());
        let baseline = Point::zero().transform(here).y.to_pt();
        let piece = joins(&text.text);
        // Nothing but white space has no shape at all.
        if area.left < area.right {
            let order = self.order;
            match self.runs.last_mut().filter(|last| self.open && piece && last.continues(area, baseline)) {
                Some(word) => word.area = word.area.with(area),
                None => self.runs.push(Run { area, size, baseline, visible, order }),
            }
        }
        self.open = piece;
    }

    fn shape(&mut self, shape: &Shape, here: Transform) {
        let area = Area::of(shape.bbox(false), here);
        if shape.fill.is_some() {
            self.fillings.push((self.order, area));
        }
        let lines = match &shape.geometry {
            _ if shape.stroke.is_none() => Vec::new(),
            Geometry::Line(end) if end.x.to_pt() == 0.0 || end.y.to_pt() == 0.0 => vec![area],
            Geometry::Rect(_) => edges(area),
            Geometry::Line(_) | Geometry::Curve(_) => Vec::new(),
        };
        self.lines.extend(lines.into_iter().map(|line| (self.order, line)));
    }

    /// The bottom of the lowest text above `end`, as a part of `end`.
    fn reach(&self, end: f64) -> f64 {
        let bottoms = self.runs.iter().map(|run| run.area.bottom).filter(|bottom| *bottom <= end);
        bottoms.fold(0.0, f64::max) / end
    }

    /// The first run that cannot be read.
    fn fault(&self) -> Option<(Fault, Area)> {
        let mut runs: Vec<&Run> = self.runs.iter().collect();
        runs.sort_by(|a, b| a.area.top.total_cmp(&b.area.top));
        runs.iter().enumerate().find_map(|(at, run)| {
            let below = runs.iter().skip(at + 1).take_while(|other| other.area.top < run.area.bottom);
            let fault = if !run.area.within(run.visible) {
                Fault::LeavesItsPlace
            } else if below.into_iter().any(|other| other.core().meets(run.core())) {
                Fault::OnText
            } else if self.crossed(run) {
                Fault::OnLine
            } else {
                return None;
            };
            Some((fault, run.area))
        })
    }

    /// Whether a line shows in the middle of a run: one painted before it only where no filling hides it.
    fn crossed(&self, run: &Run) -> bool {
        let behind = self.fillings.iter().filter(|(order, filled)| *order < run.order && run.core().within(*filled));
        let ground = behind.map(|(order, _)| *order).max().unwrap_or(0);
        self.lines.iter().any(|(order, line)| *order > ground && line.core(-0.01, -0.01).meets(run.core()))
    }
}

/// Whether letters of this text join: Arabic, Syriac and their relatives.
fn joins(text: &str) -> bool {
    text.chars()
        .any(|letter| matches!(letter, '\u{600}'..='\u{8FF}' | '\u{FB50}'..='\u{FDFF}' | '\u{FE70}'..='\u{FEFF}'))
}

fn edges(area: Area) -> Vec<Area> {
    let Area { left, top, right, bottom } = area;
    vec![
        Area { right: left, ..area },
        Area { left: right, ..area },
        Area { bottom: top, ..area },
        Area { top: bottom, ..area },
    ]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A piece on one line of 13 points, from here to there.
    fn piece(left: f64, right: f64) -> Area {
        Area { left, top: 625.0, right, bottom: 639.0 }
    }

    fn word(left: f64, right: f64) -> Run {
        let area = piece(left, right);
        Run { area, size: 13.0, baseline: 637.0, visible: area, order: 0 }
    }

    #[test]
    fn a_letter_goes_on_with_the_dot_that_came_before_it() {
        assert!(word(100.0, 103.0).continues(piece(92.0, 104.0), 637.0));
        assert!(word(100.0, 103.0).continues(piece(104.0, 111.0), 637.0));
    }

    /// Places of an Arabic line that closes a bracket between two words.
    #[test]
    fn a_word_beyond_a_bracket_is_another_word() {
        assert!(!word(418.9, 456.4).continues(piece(402.8, 409.1), 637.0));
    }

    #[test]
    fn a_raised_mark_belongs_to_its_word_and_the_next_line_does_not() {
        let goes_on = |lower: f64| word(100.0, 103.0).continues(piece(92.0, 104.0), 637.0 + lower * 13.0);
        assert!(goes_on(RAISED - 0.01) && !goes_on(RAISED + 0.01));
    }
}
