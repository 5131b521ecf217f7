//! The practice, to be read: who we are, hours, regimens, limits, visits, languages, and whether it is confirmed.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::{Value, json};

use crate::content::translation::State;
use crate::desk::answer::Answer;
use crate::desk::confirm;
use crate::desk::error::DeskError;
use crate::desk::gate::Who;
use crate::desk::room::Room;
use crate::facts::hours;
use crate::practice::Confirmed;
use crate::record::form::KnownBy;
use crate::record::profile::{DropCourse, DropStep, Regimen, StepLength};
use crate::review;
use crate::review::translations::LanguageTexts;

/// The page.
pub(in crate::desk) fn show(room: &mut Room, cookie: &str, who: &Who) -> Result<Answer, DeskError> {
    let frame = room.frame(cookie, Some(who), "practice")?;
    let profile = &room.practice.profile;
    let review = review::practice::practice(&room.practice);
    let confirmed = match review.confirmed {
        Confirmed::Current => "confirmed",
        Confirmed::Missing => "missing",
        Confirmed::Stale => "stale",
    };
    let week: Vec<_> = (0..7).filter_map(|day| room.today().checked_add_days(chrono::Days::new(day))).collect();
    let open = |day: &chrono::NaiveDate| {
        let hours = hours::on(profile, *day);
        let time = |clock: crate::record::date::Clock| room.words.locale.time(clock.0);
        let times = hours.map(|hours| Ok::<_, DeskError>((time(hours.opens)?, time(hours.closes)?))).transpose()?;
        Ok(json!({ "day": room.words.locale.full_date(*day), "times": times }))
    };
    let changed = confirm::changed(room)?;
    let mut limits = Vec::new();
    flat("limit", &serde_json::to_value(&profile.thresholds).unwrap_or_default(), &mut limits);
    let limits = limits.into_iter().map(|(key, value)| Ok((room.words.word(&key)?, shown(room, &value))));
    let named = |id: &str| room.words.locale.word(&format!("visit.{id}")).unwrap_or(id).to_owned();
    let visits: Vec<_> = profile.visits.iter().map(|visit| (named(&visit.id), visit.after_days)).collect();
    let shown = json!({
        "frame": frame, "confirmed": confirmed,
        "by": review.confirmed_by.as_ref().map(|by| by.clinician.clone()),
        "on": review.confirmed_by.as_ref().map(|by| room.words.locale.date(by.on.0)),
        "changed": changed,
        "folders": folders(&review::practice::to_confirm(&room.practice).files),
        "texts": texts(room)?,
        "known": room.practice.confirmed() == Confirmed::Current || changed.is_some(),
        "may_confirm": who.role == KnownBy::Surgeon && review.confirmed != Confirmed::Current,
        "law": review.jurisdiction,
        "notice": review.notice,
        "profile": profile,
        "days": week.iter().map(open).collect::<Result<Vec<_>, DeskError>>()?,
        "limits": limits.collect::<Result<Vec<_>, DeskError>>()?,
        "visits": visits,
        "regimens": profile.regimens.iter().map(|regimen| regimen_view(room, regimen)).collect::<Result<Vec<_>, _>>()?,
    });
    room.page("practice", shown)
}

/// A regimen: its name, what it rests on, and each drop with its steps in words.
#[derive(Debug, Serialize)]
struct RegimenView {
    name: String,
    basis: String,
    drops: Vec<(String, String)>,
}

fn regimen_view(room: &Room, regimen: &Regimen) -> Result<RegimenView, DeskError> {
    let drop = |course: &DropCourse| {
        let drug = room.practice.formulary.get(&course.drug);
        let name = drug.map_or_else(|| course.drug.clone(), |drug| drug.shown_name());
        let steps = course.steps.iter().map(|step| step_in_words(room, step)).collect::<Result<Vec<_>, _>>()?;
        let needed = course.as_needed.then(|| room.words.word("profile.as_needed")).transpose()?;
        Ok((name, steps.into_iter().chain(needed).collect::<Vec<_>>().join("; ")))
    };
    let drops = regimen.drops.iter().map(drop).collect::<Result<_, DeskError>>()?;
    Ok(RegimenView { name: regimen.name.clone(), basis: regimen.basis.clone(), drops })
}

fn step_in_words(room: &Room, step: &DropStep) -> Result<String, DeskError> {
    let counted = |key: &str, count: u32| room.words.say(key, &[("count", &room.words.locale.number(count.into(), 0))]);
    let mut words = vec![counted("profile.per_day", step.per_day)?];
    if step.every_days > 1 {
        words.push(counted("profile.every_days", step.every_days)?);
    }
    words.push(match step.length {
        StepLength::Dates(dates) => counted("profile.dates", dates)?,
        StepLength::Doses(doses) => counted("profile.doses", doses)?,
        StepLength::GoesOn(_) => room.words.word("profile.goes_on")?,
    });
    Ok(words.join(", "))
}

/// The files that a clinician confirms, by folder.
fn folders(files: &[String]) -> BTreeMap<&str, Vec<&String>> {
    let mut folders: BTreeMap<&str, Vec<&String>> = BTreeMap::new();
    for file in files {
        folders.entry(file.rsplit_once('/').map_or("", |(folder, _)| folder)).or_default().push(file);
    }
    folders
}

/// A language that is printed, with how many of its texts stand how.
#[derive(Debug, Serialize)]
struct Language {
    tag: String,
    name: String,
    texts: usize,
    states: Vec<(State, usize)>,
}

fn texts(room: &Room) -> Result<Vec<Language>, DeskError> {
    let printed = &room.practice.profile.practice.languages;
    let all = review::translations::translations(&room.practice.assets, printed, printed)?;
    let language = |texts: LanguageTexts| -> Result<Language, DeskError> {
        let count = |state: State| (state, texts.of(state).count());
        let states = STATES.map(count).into_iter().filter(|(_, count)| *count > 0).collect();
        let name = room.words.locale.word(&format!("language.{}", texts.language))?.to_owned();
        Ok(Language { name, states, texts: texts.texts.len(), tag: texts.language })
    };
    all.languages.into_iter().map(language).collect()
}

const STATES: [State; 5] = [State::Current, State::Unreviewed, State::Stale, State::Unrecorded, State::Missing];

/// One of the files that a clinician confirms, to be read.
pub(in crate::desk) fn file(room: &mut Room, cookie: &str, who: &Who, path: &str) -> Result<Option<Answer>, DeskError> {
    let frame = room.frame(cookie, Some(who), "practice")?;
    if !room.practice.confirmed_files().iter().any(|file| file == path) {
        return Ok(None);
    }
    let layers: Vec<(String, String)> =
        room.practice.assets.layers(path).into_iter().map(|(name, text)| (name, text.into_owned())).collect();
    room.page("file", json!({ "frame": frame, "path": path, "layers": layers })).map(Some)
}

/// Each value of a table by the key of its words, those of a table within it after the key of that.
fn flat(name: &str, value: &Value, values: &mut Vec<(String, Value)>) {
    match value {
        Value::Object(table) => table.iter().for_each(|(key, value)| flat(&format!("{name}.{key}"), value, values)),
        value => values.push((name.to_owned(), value.clone())),
    }
}

/// A limit as people of this language write it.
fn shown(room: &Room, value: &Value) -> String {
    match value {
        Value::Number(number) => room.words.locale.number(number.as_f64().unwrap_or_default(), 1),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assets::samples;
    use crate::demo;
    use crate::desk::words::Words;

    #[test]
    fn every_limit_has_its_words() {
        let practice = demo::practice(&samples()).unwrap();
        let words = Words::load(&practice).unwrap();
        let mut limits = Vec::new();
        flat("limit", &serde_json::to_value(&practice.profile.thresholds).unwrap(), &mut limits);
        assert!(limits.len() > 30);
        for (key, _) in limits {
            words.word(&key).unwrap();
        }
    }
}
