//! The drawing of the clearances, with second foci and what they rest on.

use crate::document::sheet::{Built, Sheet};
use crate::document::{Block, Clearances, Focus};
use crate::facts::clearance::second_foci;
use crate::record::eye::Lens;

/// The eye along its axis, to scale; only when both distances are recorded.
pub(super) fn clearances(sheet: &Sheet) -> Built<Vec<Block>> {
    let floater = &sheet.record.floater;
    let (Some(target), Some(behind)) = (floater.lens_distance_mm.value(), floater.retina_distance_mm.value()) else {
        return Ok(vec![sheet.paragraph("surgeon.no_distances", &[])?]);
    };
    let margin = margin(sheet);
    let locale = &sheet.content.locale;
    let (target_text, retina_text) = (locale.number(target, 1), locale.number(behind, 1));
    let values: [(&str, &str); 2] = [("lens", &target_text), ("retina", &retina_text)];
    let zero = match sheet.record.eye.lens {
        Lens::Natural => "surgeon.zero_natural",
        Lens::Implant => "surgeon.zero_implant",
        Lens::None => "surgeon.zero_none",
        Lens::Unknown => "surgeon.zero_unknown",
    };
    let foci = foci(sheet, target)?;
    let margin_text = locale.number(margin, 1);
    Ok(vec![Block::Clearances(Clearances {
        zero_label: sheet.text(zero, &[])?,
        retina_label: sheet.text("surgeon.retina", &[])?,
        target_mm: target,
        retina_mm: target + behind,
        retina_margin_mm: margin,
        lens_margin_mm: margin,
        target_label: sheet.text("surgeon.target", &values)?,
        margin_label: sheet.text("surgeon.margin", &[("mm", &margin_text)])?,
        alt: clearances_alt(sheet, &values, &foci)?,
        foci,
    })])
}

/// What stays free in front of the retina and behind the lens, mm: the limit, and how far the distances may be off.
pub(super) fn margin(sheet: &Sheet) -> f64 {
    sheet.profile.thresholds.clearance_stop_mm + sheet.facts.number("distance_error_mm").unwrap_or_default()
}

/// Each second focus of each add; with several adds each says of which it is.
fn foci(sheet: &Sheet, target: f64) -> Built<Vec<Focus>> {
    let locale = &sheet.content.locale;
    let all = second_foci(sheet.record);
    let label = |key: &str, mm: f64, add: f64| {
        let focus = sheet.text(key, &[("mm", &locale.number(mm, 2))])?;
        match all.len() {
            1 => Ok(focus),
            _ => sheet.text("surgeon.focus_of_add", &[("focus", &focus), ("add", &locale.number(add, 2))]),
        }
    };
    let mut foci = Vec::new();
    for focus in &all {
        let at_mm = target - focus.front_mm;
        foci.push(Focus { at_mm, label: label("surgeon.focus_front", focus.front_mm, focus.add_d)? });
        if let Some(behind) = focus.behind_mm {
            let key = if focus.at_most { "surgeon.focus_behind_most" } else { "surgeon.focus_behind" };
            foci.push(Focus { at_mm: target + behind, label: label(key, behind, focus.add_d)? });
        }
    }
    Ok(foci)
}

fn clearances_alt(sheet: &Sheet, values: &[(&str, &str)], foci: &[Focus]) -> Built<String> {
    let mut alt = sheet.text("surgeon.clearances_alt", values)?;
    for focus in foci {
        alt.push(' ');
        alt.push_str(&focus.label);
        alt.push('.');
    }
    Ok(alt)
}

/// What the second focus rests on, when there is one.
pub(super) fn second_focus(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = Vec::new();
    if sheet.facts.number("second_focus_front_mm").is_some() {
        blocks.push(sheet.paragraph("surgeon.paraxial", &[])?);
    }
    if sheet.facts.number("far_focus_share").is_some() {
        blocks.push(sheet.paragraph("surgeon.shares", &[])?);
    }
    Ok(blocks)
}
