//! The practice, to be read: who we are, hours, regimens, limits, visits, languages, and whether it is confirmed.

use serde_json::{Value, json};

use crate::desk::answer::Answer;
use crate::desk::confirm;
use crate::desk::error::DeskError;
use crate::desk::gate::Who;
use crate::desk::room::Room;
use crate::facts::hours;
use crate::practice::Confirmed;
use crate::record::form::KnownBy;
use crate::review;

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
    let mut limits = Vec::new();
    flat("", &serde_json::to_value(&profile.thresholds).unwrap_or_default(), &mut limits);
    let shown = json!({
        "frame": frame, "confirmed": confirmed,
        "by": review.confirmed_by.as_ref().map(|by| by.clinician.clone()),
        "on": review.confirmed_by.as_ref().map(|by| room.words.locale.date(by.on.0)),
        "changed": confirm::changed(room)?,
        "files": review::practice::to_confirm(&room.practice).files,
        "may_confirm": who.role == KnownBy::Surgeon && review.confirmed != Confirmed::Current,
        "law": review.jurisdiction,
        "notice": review.notice,
        "profile": profile,
        "days": week.iter().map(open).collect::<Result<Vec<_>, DeskError>>()?,
        "limits": limits,
    });
    room.page("practice", shown)
}

/// Each value of a table by its name, those of a table within it after the name of that.
fn flat(name: &str, value: &Value, values: &mut Vec<(String, Value)>) {
    match value {
        Value::Object(table) => table.iter().for_each(|(key, value)| flat(&format!("{name} {key}"), value, values)),
        value => values.push((name.trim().replace('_', " "), value.clone())),
    }
}
