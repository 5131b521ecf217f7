//! The eye beside the form: to scale, with floater, second foci and what is kept free, named for whoever does not see it.

use serde::Serialize;

use crate::desk::error::DeskError;
use crate::desk::judge::Judged;
use crate::desk::room::Room;
use crate::document::eye::{self, Label, Mark};
use crate::facts::Facts;
use crate::packet::Assessment;
use crate::render::drawing;

/// The distances that somebody measures, as facts, and the words for each.
const MEASURED: [(&str, &str); 2] =
    [("lens_distance_mm", "eye.no_lens_distance"), ("retina_distance_mm", "eye.no_retina_distance")];

/// The drawing and what stands below it.
#[derive(Debug, Serialize)]
pub(super) struct Eye {
    /// SVG, with numbers.
    drawing: String,
    /// What the numbers stand for, from 1.
    labels: Vec<String>,
    /// What is not recorded, in sentences.
    lacks: Vec<String>,
}

/// The eye as far as it is recorded.
pub(super) fn eye(room: &Room, side: Option<&str>, judged: &Judged) -> Result<Eye, DeskError> {
    let facts = Assessment::of_draft(&judged.draft, judged.moment).facts;
    let lacks = MEASURED.iter().filter(|(fact, _)| facts.number(fact).is_none());
    let lacks = lacks.map(|(_, key)| room.words.word(key)).collect::<Result<Vec<_>, _>>()?;
    let labels = labels(room, &facts)?;
    let mut told = vec![room.words.word("eye.alt")?];
    told.extend(side.map(str::to_owned));
    told.extend(labels.iter().map(|label| label.text.clone()));
    told.extend(lacks.iter().map(|says| says.trim_end_matches('.').to_owned()));
    let mut shown = eye::drawing(&facts, format!("{}.", told.join(". ")));
    shown.labels = labels;
    let drawing = drawing::numbered(&shown);
    Ok(Eye { drawing, labels: shown.labels.into_iter().map(|label| label.text).collect(), lacks })
}

/// Distances above the drawing, what must be kept clear of below it.
fn labels(room: &Room, facts: &Facts) -> Result<Vec<Label>, DeskError> {
    let label = |(mark, mm, [x, y]): (Mark, f64, [f64; 2])| {
        let (key, decimals) = match mark {
            Mark::LensDistance if facts.word("lens") == Some("none") => ("eye.pupil_distance", 1),
            Mark::LensDistance => ("eye.lens_distance", 1),
            Mark::RetinaDistance => ("eye.retina_distance", 1),
            Mark::Margin => ("eye.margin", 1),
            Mark::FocusInFront => ("eye.focus_front", 2),
            Mark::FocusBehind => ("eye.focus_behind", 2),
        };
        let text = room.words.say(key, &[("mm", &room.words.locale.number(mm, decimals))])?;
        Ok(Label { text, x, y, above: matches!(mark, Mark::LensDistance | Mark::RetinaDistance) })
    };
    eye::marks(facts).into_iter().map(label).collect()
}
