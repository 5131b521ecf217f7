//! The surgeon sheet: may I treat this eye today, within which limits, what was chosen and why, what is unproven.

use std::collections::{BTreeMap, BTreeSet};

use super::sheet::{Built, Sheet, Withheld, literal};
use super::{Block, Clearances, Document, Focus, Inline, Inlines, Page, Pair, Weight};
use crate::content::catalog::{PatientPage, Statement};
use crate::content::evidence::Evidence;
use crate::content::jurisdiction::Jurisdiction;
use crate::content::tailor::{self, Chosen};
use crate::content::{ComposeError, Library};
use crate::facts::clearance::second_foci;
use crate::facts::energy::{row_mj, session_mj};
use crate::facts::{Facts, Kind, Moment, Value, definition, pressure};
use crate::findings::{Finding, Level, Unsettled, idle_answers};
use crate::record::course::{Change, Tailoring, Treatment};
use crate::record::eye::Lens;
use crate::record::known::{Answer, Known};
use crate::record::profile::Labels;

/// Builds the surgeon sheet. `chosen` are the patient's statements with their conditions.
///
/// # Errors
/// A text that is missing.
pub fn build(sheet: &Sheet, library: &Library, page: PatientPage, jurisdiction: &Jurisdiction) -> Built<Document> {
    let mut blocks = vec![verdict(sheet)?];
    blocks.extend(released(sheet)?);
    blocks.extend(findings(sheet)?);
    blocks.push(sheet.heading("surgeon.eye")?);
    blocks.push(eye(sheet)?);
    blocks.push(health(sheet)?);
    blocks.extend(clearances(sheet)?);
    blocks.extend(second_focus(sheet)?);
    blocks.push(sheet.heading("surgeon.treatment")?);
    blocks.push(treatment(sheet)?);
    blocks.extend(sessions(sheet)?);
    blocks.extend(energy(sheet)?);
    blocks.extend(answers(sheet)?);
    let chosen = tailor::choose(library, sheet.facts, page, &sheet.record.tailoring)?;
    blocks.extend(statements(sheet, &chosen)?);
    if sheet.moment == Moment::Before {
        blocks.push(elements(sheet, jurisdiction)?);
    }
    blocks.extend(evidence(sheet, library, &chosen)?);
    blocks.push(confirmation(sheet)?);
    blocks.push(sheet.paragraph("surgeon.caution", &[])?);
    sheet.document(Page::Surgeon, sheet.text("surgeon.title", &[])?, blocks)
}

/// The first thing seen: whether the patient's pages are withheld, and by how many open findings.
fn verdict(sheet: &Sheet) -> Built<Block> {
    let open = match sheet.withheld {
        Some(Withheld::Findings) => sheet.findings.withholding(sheet.moment).count(),
        Some(Withheld::Incomplete) => sheet.lacking.len(),
        _ => sheet.findings.0.iter().filter(|finding| finding.open()).count(),
    };
    let count = sheet.content.locale.count("finding", open as f64)?;
    let list = |of: &[String]| sheet.content.locale.list(of.iter().map(String::as_str));
    let (lacking, cases) = (list(sheet.lacking), list(sheet.overlaps));
    let (title, text) = match (sheet.withheld, open) {
        (Some(Withheld::Unconfirmed), _) => ("surgeon.unconfirmed", "surgeon.unconfirmed_text"),
        (Some(Withheld::Stale), _) => ("surgeon.stale", "surgeon.stale_text"),
        (Some(Withheld::Incomplete), _) => ("surgeon.incomplete", "surgeon.incomplete_text"),
        (Some(Withheld::Undated), _) => ("surgeon.undated", "surgeon.undated_text"),
        (Some(Withheld::Overlap), _) => ("surgeon.overlap", "surgeon.overlap_text"),
        (Some(Withheld::Findings), _) if sheet.moment == Moment::After => {
            ("surgeon.drops_withheld", "surgeon.withheld_text")
        }
        (Some(Withheld::Findings), _) => ("surgeon.withheld", "surgeon.withheld_text"),
        (None, 0) => ("surgeon.clear", "surgeon.clear_text"),
        (None, _) => ("surgeon.open", "surgeon.withheld_text"),
    };
    Ok(Block::Notice {
        weight: if title == "surgeon.clear" { Weight::Light } else { Weight::Heavy },
        title: sheet.text(title, &[("count", &count)])?,
        text: sheet.inline(text, &[("count", &count), ("lacking", &lacking), ("cases", &cases)])?,
    })
}

/// Each stop that was answered, seen before anything else: who released it, and when.
fn released(sheet: &Sheet) -> Built<Vec<Block>> {
    let released = sheet.findings.0.iter().filter(|finding| finding.released());
    let lines = released.filter_map(|finding| Some((finding, finding.settled_by()?))).map(|(finding, answer)| {
        let (title, date) = (sheet.title(finding)?, sheet.content.locale.date(answer.on.0));
        sheet.paragraph("surgeon.released", &[("title", &title), ("by", &answer.by), ("date", &date)])
    });
    lines.collect()
}

fn findings(sheet: &Sheet) -> Built<Vec<Block>> {
    if sheet.findings.0.is_empty() {
        return Ok(Vec::new());
    }
    let mut blocks = vec![sheet.heading("surgeon.findings")?];
    for level in [Level::Stop, Level::Ask, Level::Caution, Level::Note] {
        let of_level = sheet.findings.0.iter().filter(|finding| finding.level == level);
        let rows = of_level.map(|finding| finding_row(sheet, finding)).collect::<Built<Vec<_>>>()?;
        if rows.is_empty() {
            continue;
        }
        let key = format!("surgeon.level_{}", level.word());
        blocks.push(sheet.table(
            sheet.text(&key, &[])?,
            &["surgeon.finding", "surgeon.why", "surgeon.basis"],
            &[3, 6, 3],
            rows,
        )?);
    }
    Ok(blocks)
}

fn finding_row(sheet: &Sheet, finding: &Finding) -> Built<Vec<Inlines>> {
    let name = &finding.id;
    let mut title = vec![Inline::Strong(sheet.content.template(name, &finding.title)?)];
    title.push(Inline::Text(format!(" ({name})")));
    let mut why = Vec::new();
    if !finding.unrecorded.is_empty() {
        let names = finding.unrecorded.iter().map(|name| name.replace('_', " "));
        let names = names.collect::<Vec<_>>();
        let names = sheet.content.locale.list(names.iter().map(String::as_str));
        why.extend(sheet.inline("surgeon.unrecorded", &[("names", &names)])?);
        why.push(Inline::Text(" ".into()));
    }
    why.extend(sheet.content.template(name, &finding.says)?);
    if !finding.alternatives.is_empty() {
        let names = sheet.content.locale.list(finding.alternatives.iter().map(String::as_str));
        why.push(Inline::Text(" ".into()));
        why.extend(sheet.inline("surgeon.alternatives", &[("names", &names)])?);
    }
    if !finding.next_step.is_empty() {
        why.push(Inline::Text(" ".into()));
        why.extend(sheet.content.template(name, &finding.next_step)?);
    }
    if finding.level.withholds() {
        why.push(Inline::Text(" ".into()));
        why.extend(match (finding.settled_by(), &finding.answer, &finding.unsettled) {
            (Some(answer), ..) => sheet.inline("surgeon.answered", &[("by", &answer.by)])?,
            (None, Some(answer), Some(unsettled)) => self::unsettled(sheet, &answer.by, unsettled)?,
            _ => sheet.inline("surgeon.not_answered", &[])?,
        });
    }
    Ok(vec![title, why, literal(&finding.basis)])
}

/// Why the answer on record does not count.
fn unsettled(sheet: &Sheet, by: &str, why: &Unsettled) -> Built<Inlines> {
    match why {
        Unsettled::Unbound => sheet.inline("surgeon.answer_unbound", &[("by", by)]),
        Unsettled::Changed(values) => {
            let now: Vec<String> =
                values.iter().map(|(name, now)| format!("{} {now}", name.replace('_', " "))).collect();
            let now = sheet.content.locale.list(now.iter().map(String::as_str));
            sheet.inline("surgeon.answer_changed", &[("by", by), ("now", &now)])
        }
        Unsettled::Older(date) => {
            let date = sheet.content.locale.date(*date);
            sheet.inline("surgeon.answer_older", &[("by", by), ("date", &date)])
        }
    }
}

/// The facts a surgeon looks for first, each said or called not recorded.
fn eye(sheet: &Sheet) -> Built<Block> {
    const SHOWN: &[&str] = &[
        "acuity",
        "lens",
        "implant_focus",
        "implant_optic",
        "implant_toric",
        "capsule",
        "opening_mm",
        "axial_length_mm",
        "pressure_mmhg",
        "pupil",
        "cornea",
        "lens_clarity",
        "floater_kind",
        "complaint_months",
        "sudden",
        "lens_distance_mm",
        "retina_distance_mm",
        "measured",
        "detachment",
        "detachment_months",
        "detachment_weeks",
        "examination_days",
        "indentation",
        "breaks",
        "breaks_treated",
        "new_signs",
        "contact_lenses",
    ];
    let mut items = Vec::new();
    for name in SHOWN {
        if let Some(value) = shown(sheet, name)? {
            items.push(sheet.pair(&format!("fact.{name}"), value)?);
        }
    }
    Ok(Block::Pairs { items })
}

/// Allergies, medicines, drops in use and in the clinic: each listed, said to be none, or said to be not recorded.
fn health(sheet: &Sheet) -> Built<Block> {
    let health = &sheet.record.health;
    let locale = &sheet.content.locale;
    let list = |items: &[String]| locale.list(items.iter().map(String::as_str));
    let unknown = || sheet.text("word.any.unknown", &[]);
    let none = || sheet.text("surgeon.none_listed", &[]);
    let allergies = match (health.allergies.is_empty(), health.allergies_asked) {
        (false, _) => list(&health.allergies),
        (true, Answer::Yes) => none()?,
        (true, _) => unknown()?,
    };
    let recorded = |entries: &Known<Vec<String>>| match entries.as_ref() {
        None => unknown(),
        Some(entries) if entries.is_empty() => none(),
        Some(entries) => Ok(list(entries)),
    };
    let eye_drops = recorded(&health.eye_drops)?;
    let medicines = recorded(&health.medicines)?;
    let clinic: Vec<String> =
        [&sheet.record.plan.dilating, &sheet.record.plan.numbing].into_iter().flatten().cloned().collect();
    let clinic = if clinic.is_empty() { none()? } else { list(&drug_names(sheet, &clinic)?) };
    let mut items = vec![
        sheet.pair("surgeon.allergies", literal(&allergies))?,
        sheet.pair("surgeon.medicines", literal(&medicines))?,
        sheet.pair("surgeon.eye_drops", literal(&eye_drops))?,
        sheet.pair("surgeon.clinic_drops", literal(&clinic))?,
        sheet.pair("surgeon.labels", sheet.inline(labels(sheet.profile.practice.labels), &[])?)?,
    ];
    if let Some(done) = sheet.record.treatment.as_ref().filter(|_| sheet.moment == Moment::After) {
        let doses = done.clinic_doses.iter().map(|dose| {
            let (drug, time) = (super::drops::drug(sheet, &dose.drug)?.shown_name(), locale.time(dose.at.0.time())?);
            sheet.text("surgeon.given_dose", &[("drug", &drug), ("time", &time)])
        });
        let doses = doses.collect::<Built<Vec<_>>>()?;
        let doses = if doses.is_empty() { none()? } else { list(&doses) };
        items.push(sheet.pair("surgeon.given", literal(&doses))?);
    }
    Ok(Block::Pairs { items })
}

/// Which drug labels the levels of the drug rules follow.
fn labels(labels: Labels) -> &'static str {
    match labels {
        Labels::Us => "surgeon.labels_us",
        Labels::EuUk => "surgeon.labels_eu_uk",
        Labels::Stricter => "surgeon.labels_stricter",
    }
}

fn drug_names(sheet: &Sheet, keys: &[String]) -> Built<Vec<String>> {
    let drug =
        |key: &String| super::drops::drug(sheet, key).map(|drug| format!("{} {}", drug.shown_name(), drug.strength));
    keys.iter().map(drug).collect()
}

/// A fact in words; none when it does not apply to this eye.
fn shown(sheet: &Sheet, name: &str) -> Built<Option<Inlines>> {
    let value = sheet.facts.iter().find(|(known, _)| *known == name).map(|(_, value)| value);
    let kind = definition(name).map(|fact| fact.kind);
    Ok(match (value, kind) {
        (Some(Value::Choice(word)), _) if word == "not_applicable" => None,
        (Some(Value::Choice(word)), _) => Some(match sheet.text(&format!("word.{name}.{word}"), &[]) {
            Ok(text) => literal(&text),
            Err(ComposeError::MissingText { .. }) => sheet.inline(&format!("word.any.{word}"), &[])?,
            Err(error) => return Err(error),
        }),
        (Some(Value::Number(number)), Some(Kind::Number(unit @ ("months" | "weeks" | "days"), _))) => {
            Some(literal(&sheet.content.locale.count(unit.trim_end_matches('s'), *number)?))
        }
        (Some(Value::Number(number)), Some(Kind::Number(unit, decimals))) => {
            Some(literal(&format!("{} {unit}", sheet.content.locale.number(*number, decimals))))
        }
        (Some(Value::Text(text)), _) => Some(literal(text)),
        (Some(Value::Absent), _) if name == "opening_mm" && sheet.facts.choice("capsule") != "open" => None,
        (Some(Value::Absent), _) if name == "breaks_treated" && sheet.facts.choice("breaks") != "treated" => None,
        (Some(Value::Absent), _) => Some(sheet.inline("word.any.unknown", &[])?),
        _ => None,
    })
}

/// The eye along its axis, to scale; only when both distances are recorded.
fn clearances(sheet: &Sheet) -> Built<Vec<Block>> {
    let floater = &sheet.record.floater;
    let (Some(target), Some(behind)) = (floater.lens_distance_mm.value(), floater.retina_distance_mm.value()) else {
        return Ok(vec![sheet.paragraph("surgeon.no_distances", &[])?]);
    };
    let (margin, lens_margin) = margins(sheet);
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
    Ok(vec![
        sheet.heading("surgeon.clearances")?,
        Block::Clearances(Clearances {
            zero_label: sheet.text(zero, &[])?,
            retina_label: sheet.text("surgeon.retina", &[])?,
            target_mm: target,
            retina_mm: target + behind,
            retina_margin_mm: margin,
            lens_margin_mm: lens_margin,
            target_label: sheet.text("surgeon.target", &values)?,
            margin_label: sheet.text("surgeon.margin", &[("mm", &margin_text)])?,
            alt: clearances_alt(sheet, &values, &foci)?,
            foci,
        }),
    ])
}

/// Margins to retina and lens, mm; none to a lens that is not there.
fn margins(sheet: &Sheet) -> (f64, f64) {
    let margin = sheet.profile.thresholds.clearance_stop_mm;
    (margin, margin)
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
fn second_focus(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = Vec::new();
    if sheet.facts.number("second_focus_front_mm").is_some() {
        blocks.push(sheet.paragraph("surgeon.paraxial", &[])?);
    }
    if sheet.facts.number("far_focus_share").is_some() {
        blocks.push(sheet.paragraph("surgeon.shares", &[])?);
    }
    Ok(blocks)
}

fn treatment(sheet: &Sheet) -> Built<Block> {
    let plan = &sheet.record.plan;
    let locale = &sheet.content.locale;
    let energy = match plan.pulse_energy_mj.value() {
        None => sheet.inline("word.any.unknown", &[])?,
        Some(range) => {
            let (low, high) = (locale.number(range.lowest, 1), locale.number(range.highest, 1));
            sheet.inline("surgeon.energy_range", &[("low", &low), ("high", &high)])?
        }
    };
    let mut items = vec![
        sheet.pair("consent.when", literal(&sheet.when(plan.start.0)?))?,
        sheet.pair("surgeon.energy", energy)?,
        sheet.pair("surgeon.regimen", sheet.inline("surgeon.regimen_value", &[])?)?,
        sheet.pair("surgeon.recheck", recheck(sheet)?)?,
    ];
    for name in ["enlarge_opening", "aiming"] {
        if let Some(value) = shown(sheet, name)? {
            items.push(sheet.pair(&format!("fact.{name}"), value)?);
        }
    }
    Ok(Block::Pairs { items })
}

/// Earlier sessions on this eye: when, how much energy, and what they brought.
fn sessions(sheet: &Sheet) -> Built<Option<Block>> {
    let locale = &sheet.content.locale;
    let rows = sheet.record.earlier_sessions.iter().map(|session| {
        let unknown = || sheet.inline("word.any.unknown", &[]);
        let energy = session.energy_mj.value().map(|mj| literal(&locale.number(mj, 1)));
        let result = session.result.as_ref().map(|result| literal(result));
        Ok(vec![
            literal(&locale.date(session.date.0)),
            energy.map_or_else(unknown, Ok)?,
            result.map_or_else(unknown, Ok)?,
        ])
    });
    let rows = rows.collect::<Built<Vec<_>>>()?;
    let caption = sheet.text("surgeon.sessions", &[])?;
    let table =
        || sheet.table(caption, &["surgeon.on", "surgeon.mj", "surgeon.session_result"], &[2, 1, 4], rows.clone());
    (!rows.is_empty()).then(table).transpose()
}

fn recheck(sheet: &Sheet) -> Built<Inlines> {
    let need = sheet.inline(&format!("surgeon.recheck_{}", sheet.facts.choice("recheck_need")), &[])?;
    let Some((at, place)) = super::visits::recheck_place(sheet)? else { return Ok(need) };
    let when = sheet.when(at)?;
    let mut text = need;
    text.push(Inline::Text(" ".into()));
    text.extend(sheet.inline("surgeon.recheck_at", &[("when", &when), ("place", &place)])?);
    Ok(text)
}

/// Energy as done, row by row, and added up.
fn energy(sheet: &Sheet) -> Built<Vec<Block>> {
    let Some(done) = sheet.record.treatment.as_ref().filter(|_| sheet.moment == Moment::After) else {
        return Ok(Vec::new());
    };
    let locale = &sheet.content.locale;
    let total_pulses: u32 = done.rows.iter().map(|row| row.pulses).sum();
    let row = |head: String, pulses: u32, mj: f64| {
        vec![literal(&head), literal(&locale.number(f64::from(pulses), 0)), literal(&locale.number(mj, 1))]
    };
    let mut rows: Vec<Vec<Inlines>> = done
        .rows
        .iter()
        .map(|pulses| row(locale.number(pulses.pulse_energy_mj, 1), pulses.pulses, row_mj(pulses)))
        .collect();
    rows.push(row(sheet.text("surgeon.energy_session", &[])?, total_pulses, session_mj(done)));
    let mut blocks = vec![sheet.table(
        sheet.text("surgeon.energy_done", &[])?,
        &["surgeon.pulse_mj", "surgeon.pulses", "surgeon.mj"],
        &[2, 1, 1],
        rows,
    )?];
    let total = sheet.facts.number("eye_energy_mj").map(|mj| locale.number(mj, 1));
    blocks.push(match (&total, sheet.record.earlier_sessions.len()) {
        (Some(total), count) => {
            sheet.paragraph("surgeon.energy_eye", &[("mj", total), ("earlier", &locale.number(count as f64, 0))])?
        }
        (None, _) => sheet.paragraph("surgeon.energy_eye_unknown", &[])?,
    });
    blocks.extend(pressures(sheet, done)?);
    for event in &done.events {
        blocks.push(Block::Notice {
            weight: Weight::Heavy,
            title: sheet.text("surgeon.event", &[])?,
            text: literal(&event.what),
        });
    }
    Ok(blocks)
}

/// The next step by the last pressure of the day; then each with its rise and what the practice's limits make of it. What to give
/// is not said: that is the surgeon's.
fn pressures(sheet: &Sheet, done: &Treatment) -> Built<Vec<Block>> {
    let locale = &sheet.content.locale;
    let unknown = || sheet.inline("word.any.unknown", &[]);
    let mmhg = |value: Option<f64>| match value {
        Some(mmhg) => Ok(literal(&format!("{} mmHg", locale.number(mmhg, 1)))),
        None => unknown(),
    };
    let before = done.pressure_before_mmhg.value();
    let mut rows =
        vec![vec![sheet.inline("fact.pressure_before_mmhg", &[])?, mmhg(before)?, literal("–"), literal("–")]];
    let readings = pressure::readings(Some(done), sheet.profile);
    if readings.iter().all(|reading| reading.recheck.is_some()) {
        rows.push(vec![sheet.inline("fact.pressure_after_mmhg", &[])?, unknown()?, literal("–"), literal("–")]);
    }
    for reading in &readings {
        let what = match reading.recheck {
            None => sheet.inline("fact.pressure_after_mmhg", &[])?,
            Some(at) => sheet.inline("surgeon.pressure_recheck", &[("time", &locale.time(at.time())?)])?,
        };
        let level = sheet.inline(&format!("word.pressure_level.{}", reading.level.word()), &[])?;
        rows.push(vec![what, mmhg(Some(reading.mmhg))?, mmhg(reading.rise_mmhg)?, level]);
    }
    let table = sheet.table(
        sheet.text("surgeon.pressures", &[])?,
        &["surgeon.measured", "surgeon.pressure", "surgeon.rise", "surgeon.by_limits"],
        &[4, 2, 2, 4],
        rows,
    )?;
    let mut next = sheet.inline(&format!("surgeon.pressure_{}", sheet.facts.choice("pressure_level")), &[])?;
    next.push(Inline::Text(" ".into()));
    next.extend(sheet.inline("surgeon.pressure_limits", &[])?);
    Ok(vec![Block::Paragraph { text: next }, table])
}

/// Every answer of the record: finding, who, when, why.
fn answers(sheet: &Sheet) -> Built<Vec<Block>> {
    let answers = &sheet.record.answers;
    if answers.is_empty() {
        return Ok(Vec::new());
    }
    let idle = idle_answers(sheet.findings, answers);
    let rows = answers.iter().map(|answer| {
        let mut reason = literal(&answer.reason);
        if idle.contains(&answer.finding.as_str()) {
            reason.push(Inline::Text(" ".into()));
            reason.extend(sheet.inline("surgeon.idle", &[])?);
        }
        let date = sheet.content.locale.date(answer.on.0);
        Ok(vec![literal(&answer.finding), literal(&answer.by), literal(&date), reason])
    });
    Ok(vec![sheet.table(
        sheet.text("surgeon.answers", &[])?,
        &["surgeon.finding", "surgeon.by", "surgeon.on", "surgeon.reason"],
        &[3, 2, 2, 4],
        rows.collect::<Built<_>>()?,
    )?])
}

/// Which statements the patient reads: chosen by which facts, added, moved or left out by whom and why; those that
/// everybody reads are only counted.
fn statements(sheet: &Sheet, chosen: &Chosen) -> Built<Vec<Block>> {
    let tuned = chosen.said.iter().filter(|choice| choice.statement.row.when.is_some() || choice.by_hand.is_some());
    let rows = tuned.map(|choice| {
        let by = match choice.by_hand {
            Some(entry) => by_hand(sheet, entry)?,
            None => literal(&seen(choice.statement, sheet.facts)),
        };
        Ok(vec![literal(&choice.statement.row.id), by])
    });
    let mut rows = rows.collect::<Built<Vec<_>>>()?;
    let count = (chosen.said.len() - rows.len()).to_string();
    for (statement, entry) in &chosen.left_out {
        rows.push(vec![literal(&statement.row.id), by_hand(sheet, entry)?]);
    }
    let mut blocks =
        vec![sheet.heading("surgeon.statements")?, sheet.paragraph("surgeon.statements_all", &[("count", &count)])?];
    if !rows.is_empty() {
        blocks.push(sheet.table(
            sheet.text("surgeon.statements_tuned", &[])?,
            &["surgeon.statement", "surgeon.chosen_by"],
            &[2, 5],
            rows,
        )?);
    }
    Ok(blocks)
}

/// The facts that made a condition hold; all it looked at where none alone did.
fn seen(statement: &Statement, facts: &Facts) -> String {
    let met = |(name, words): &(&str, &[String])| words.iter().any(|word| word == facts.choice(name));
    let met: BTreeSet<&str> = statement.when.questions().into_iter().filter(met).map(|(name, _)| name).collect();
    let names = if met.is_empty() { statement.when.names() } else { met };
    let seen = names.into_iter().map(|name| format!("{name} = {}", facts.choice(name)));
    seen.collect::<Vec<_>>().join(", ")
}

fn by_hand(sheet: &Sheet, entry: &Tailoring) -> Built<Inlines> {
    let key = match entry.change {
        Change::Add => "surgeon.added",
        Change::LeaveOut => "surgeon.left_out",
        Change::MoveUp => "surgeon.moved",
    };
    let date = sheet.content.locale.date(entry.on.0);
    sheet.inline(key, &[("by", &entry.by), ("date", &date), ("reason", &entry.reason)])
}

/// Whose rules the consent was compared with, and what it lacks.
fn elements(sheet: &Sheet, jurisdiction: &Jurisdiction) -> Built<Block> {
    let values = [("name", jurisdiction.name.as_str()), ("notice", jurisdiction.notice.as_str())];
    sheet.paragraph("surgeon.elements", &values)
}

/// What the numbers of the patient's page rest on, by grade; what is indirect, from memory or not published is said.
fn evidence(sheet: &Sheet, library: &Library, chosen: &Chosen) -> Built<Vec<Block>> {
    let ids: BTreeSet<&String> = chosen.said.iter().flat_map(|choice| &choice.statement.row.evidence).collect();
    let entries: Vec<&Evidence> = ids.into_iter().filter_map(|id| library.evidence.get(id)).collect();
    let mut by_grade: BTreeMap<(bool, &str), Vec<&str>> = BTreeMap::new();
    for entry in &entries {
        by_grade.entry((entry.indirect, entry.grade.as_str())).or_default().push(&entry.id);
    }
    let mut items = Vec::new();
    for ((indirect, grade), ids) in by_grade {
        let key = if indirect { "surgeon.grade_indirect" } else { "surgeon.grade_direct" };
        let label = sheet.text(key, &[("grade", grade)])?;
        items.push(Pair { label, value: literal(&ids.join(", ")) });
    }
    let memory = entries.iter().map(|entry| (entry.id.as_str(), entry.from_memory()));
    let memory: Vec<String> = memory
        .filter(|(_, fields)| !fields.is_empty())
        .map(|(id, fields)| format!("{id} ({})", fields.join(", ")))
        .collect();
    if !memory.is_empty() {
        items.push(sheet.pair("surgeon.memory", literal(&memory.join("; ")))?);
    }
    if items.is_empty() {
        return Ok(Vec::new());
    }
    Ok(vec![sheet.heading("surgeon.unproven")?, Block::Pairs { items }, sheet.paragraph("surgeon.unpublished", &[])?])
}

fn confirmation(sheet: &Sheet) -> Built<Block> {
    let pairs: Vec<Pair> = match &sheet.profile.confirmation {
        None => vec![sheet.pair("surgeon.confirmed", sheet.inline("surgeon.nobody", &[])?)?],
        Some(confirmation) => {
            let date = sheet.content.locale.date(confirmation.on.0);
            let values = [("by", confirmation.clinician.as_str()), ("date", date.as_str())];
            vec![sheet.pair("surgeon.confirmed", sheet.inline("surgeon.confirmed_by", &values)?)?]
        }
    };
    Ok(Block::Pairs { items: pairs })
}
