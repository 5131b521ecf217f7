//! Own results: benefit and harm with the numbers they rest on, harm added up, surgeons beside each other, and each event
//! that somebody should look at.

use std::panic::resume_unwind;
use std::thread;

use chrono::NaiveDate;
use serde_json::{Value, json};

use super::results_page;
use super::results_shown::{CurveView, EnergyView, FunnelView, RateView, ReviewView, RowView, Shown, SurgeonView};

use crate::content::evidence::Evidence;
use crate::desk::answer::{Answer, Ask};
use crate::desk::error::DeskError;
use crate::desk::gate::Who;
use crate::desk::room::Room;
use crate::record::date::PartialDate;
use crate::record::profile::ResultsRule;
use crate::register::CaseId;
use crate::render::charts;
use crate::results::{
    Counted, Endpoint, EyeGroup, Eyes, FloaterGroup, Outcome, OwnResults, ReviewLine, Row, Selection, Session,
    Severity, funnel, harm, limit, limits, own,
};

/// Of what the scale of a benefit and of a harm ends, as a share.
const HELP_SCALE: f64 = 1.0;
const HARM_SCALE: f64 = 0.2;

/// What the address asks for.
struct Asked {
    selection: Selection,
    since: String,
}

/// The page.
pub(in crate::desk) fn show(room: &mut Room, cookie: &str, who: &Who, ask: &Ask) -> Result<Answer, DeskError> {
    let frame = room.frame(cookie, Some(who), "results")?;
    let asked = asked(ask);
    let shown = match room.practice.results_rule() {
        None => json!({ "frame": frame, "rule": null }),
        Some(rule) => {
            let mut shown = json!(counted(room, &asked, &rule)?);
            shown["frame"] = json!(frame);
            shown
        }
    };
    room.page("results", shown)
}

/// The same on paper; nothing where the practice does not count its results.
pub(in crate::desk) fn print(room: &Room, ask: &Ask) -> Result<Option<Answer>, DeskError> {
    let Some(rule) = room.practice.results_rule() else { return Ok(None) };
    let shown = counted(room, &asked(ask), &rule)?;
    results_page::pdf(room, &shown).map(Some)
}

fn asked(ask: &Ask) -> Asked {
    let field = |name: &str| ask.fields.get(name).map(|text| text.trim()).unwrap_or_default();
    let since = field("since").to_owned();
    Asked {
        selection: Selection {
            surgeon: Some(field("surgeon")).filter(|id| !id.is_empty()).map(str::to_owned),
            eyes: EyeGroup::of(field("eyes")).unwrap_or_default(),
            floaters: FloaterGroup::of(field("floaters")).unwrap_or_default(),
            since: since.parse::<PartialDate>().ok().and_then(PartialDate::earliest),
        },
        since,
    }
}

fn counted(room: &Room, asked: &Asked, rule: &ResultsRule) -> Result<Shown, DeskError> {
    let up_to = room.today();
    let counted = room.register.counted(up_to)?;
    let (sessions, outcomes) = (&counted.sessions, &counted.outcomes);
    let eyes = Eyes::of(sessions, outcomes, &asked.selection, up_to);
    let results = own(&eyes, rule, &room.practice.profile.thresholds);
    let number = |count: u32| room.words.locale.number(count.into(), 0);
    let standing = results.standing;
    Ok(Shown {
        rule: rule.clone(),
        shares: rule.gives_shares(),
        up_to: room.words.locale.full_date(up_to),
        surgeons: surgeons(room, asked)?,
        eyes: EyeGroup::WORDS.iter().map(|(group, word)| (*word, *group == asked.selection.eyes)).collect::<Vec<_>>(),
        floaters: FloaterGroup::WORDS
            .iter()
            .map(|(group, word)| (*word, *group == asked.selection.floaters))
            .collect::<Vec<_>>(),
        since: asked.since.clone(),
        asked_surgeon: asked.selection.surgeon.clone(),
        asked_eyes: word_of(&EyeGroup::WORDS, asked.selection.eyes),
        asked_floaters: word_of(&FloaterGroup::WORDS, asked.selection.floaters),
        since_wrong: !asked.since.is_empty() && asked.selection.since.is_none(),
        treated: number(standing.treated),
        followed: number(standing.followed),
        not_yet: number(standing.not_yet),
        lost: number(standing.lost),
        rows: results.rows.iter().map(|row| row_view(room, row, rule)).collect::<Result<Vec<_>, _>>()?,
        rates: rates(room, &results, rule)?,
        curve: curve(room, &results, rule)?,
        review: results.review.iter().map(|line| review(room, line)).collect::<Result<Vec<_>, _>>()?,
        funnel: beside(room, sessions, outcomes, asked, rule)?,
        energy: energy(room, &eyes)?,
        for_consent: for_consent(&results, asked, rule),
        said: rule.in_consent.as_ref().map(|own| room.words.locale.date(own.up_to.0)),
    })
}

fn word_of<G: PartialEq>(words: &[(G, &'static str)], group: G) -> &'static str {
    words.iter().find(|(own, _)| *own == group).map_or("all", |(_, word)| *word)
}

fn surgeons(room: &Room, asked: &Asked) -> Result<Vec<(String, String, bool)>, DeskError> {
    let chosen = asked.selection.surgeon.as_deref().unwrap_or_default();
    let all = [(String::new(), room.words.word("results.all")?, chosen.is_empty())];
    let own = room.practice.profile.surgeons.iter();
    let own = own.map(|surgeon| (surgeon.id.clone(), surgeon.name.clone(), surgeon.id == chosen));
    Ok(all.into_iter().chain(own).collect())
}

fn row_view(room: &Room, row: &Row, rule: &ResultsRule) -> Result<RowView, DeskError> {
    let Row { endpoint, counted } = row;
    let number = |count: u32| room.words.locale.number(count.into(), 0);
    let label = room.words.word(&format!("results.row.{}", endpoint.word()))?;
    let window = match endpoint.same_day() {
        true => room.words.word("results.same_day")?,
        false => room.words.count("results.months", rule.window_months as usize)?,
    };
    let could = could(room, counted, rule)?;
    let drawn = match (counted.interval(rule.least_eyes), &could) {
        (Some((low, high)), Some(could)) => {
            let share = counted.share(rule.least_eyes).unwrap_or_default();
            let alt = format!("{label}: {could}");
            Some(charts::range(charts::Range { low, share, high }, scale(*endpoint), &alt))
        }
        _ => None,
    };
    let library = room.practice.library(room.practice.staff_language())?;
    let beside = |evidence: &&Evidence| evidence.own_result.as_deref() == Some(endpoint.word());
    let published = library.evidence.values().find(beside);
    Ok(RowView {
        label,
        help: endpoint.is_help(),
        affected: number(counted.affected),
        followed: number(counted.followed),
        treated: number(counted.treated),
        window,
        drawn,
        could,
        published: published.map(|evidence| published_words(room, evidence)).transpose()?.flatten(),
    })
}

fn scale(endpoint: Endpoint) -> f64 {
    if endpoint.is_help() { HELP_SCALE } else { HARM_SCALE }
}

/// The interval in words, rounded outwards; of none only how many it could be.
fn could(room: &Room, counted: &Counted, rule: &ResultsRule) -> Result<Option<String>, DeskError> {
    let Some((low, high)) = counted.interval(rule.least_eyes) else { return Ok(None) };
    let (low, high) = (rounded(room, low, f64::floor), rounded(room, high, f64::ceil));
    let key = if counted.affected == 0 { "results.could_none" } else { "results.could" };
    room.words.say(key, &[("low", &low), ("high", &high)]).map(Some)
}

/// In 100, with a decimal below ten.
fn rounded(room: &Room, share: f64, outwards: fn(f64) -> f64) -> String {
    let in_100 = share * 100.0;
    let (value, decimals) = if in_100 < 10.0 { (outwards(in_100 * 10.0) / 10.0, 1) } else { (outwards(in_100), 0) };
    room.words.locale.number(value, if value.fract() == 0.0 { 0 } else { decimals })
}

fn published_words(room: &Room, evidence: &Evidence) -> Result<Option<String>, DeskError> {
    let Some(counts) = evidence.counts() else { return Ok(None) };
    let (k, n) = (counts.k.to_string(), counts.n.to_string());
    let words = room.words.say("results.published_counts", &[("k", &k), ("n", &n)])?;
    let span = evidence.span().ok().map(|(span, unit)| (room.words.locale.number(span, 1), unit));
    let span =
        span.map(|(span, unit)| room.words.say(&format!("results.span.{unit}"), &[("count", &span)])).transpose()?;
    Ok(Some(span.map_or_else(|| words.clone(), |span| format!("{words}, {span}"))))
}

fn rates(room: &Room, results: &OwnResults, rule: &ResultsRule) -> Result<Vec<RateView>, DeskError> {
    let rate = |(kind, rate): &(crate::results::EventKind, crate::results::Rate)| {
        let word = json!(kind).as_str().map(str::to_owned).unwrap_or_default();
        let years = room.words.locale.number(rate.eye_years, 0);
        let number = |value: f64| room.words.locale.number(value, 1);
        let per = rate.in_100_years(rule.least_eyes).map(|(per, low, high)| (number(per), number(low), number(high)));
        let label = room.words.word(&format!("outcome.kind.{word}"))?;
        let eyes = room.words.locale.number(rate.eyes.into(), 0);
        Ok(RateView { label, events: rate.events, eyes, years, per })
    };
    results.rates.iter().map(rate).collect()
}

/// The curve of harm, with what it says.
fn curve(room: &Room, results: &OwnResults, rule: &ResultsRule) -> Result<CurveView, DeskError> {
    let limit = limit(rule.expected_harm, rule.alarming_harm, rule.eyes_between_false_alarms);
    let number = |value: f64| room.words.locale.number(value, 1);
    let points: Vec<(f64, bool)> = results.curve.points.iter().map(|point| (point.height, point.harm)).collect();
    let (now, highest) = (results.curve.now(), results.curve.highest());
    let values = [
        ("eyes", number(points.len() as f64)),
        ("harms", number(f64::from(results.harm.affected))),
        ("limit", number(limit)),
        ("now", number(now)),
        ("highest", number(highest)),
        ("expected", number(rule.expected_harm * 100.0)),
        ("alarming", number(rule.alarming_harm * 100.0)),
        ("between", number(rule.eyes_between_false_alarms.into())),
    ];
    let values: Vec<(&str, &str)> = values.iter().map(|(name, value)| (*name, value.as_str())).collect();
    let (limit_says, alt) = (room.words.say("results.limit", &values)?, room.words.say("results.curve_alt", &values)?);
    let below = room.words.word("results.eyes_in_order")?;
    let drawn =
        charts::curve(&charts::Curve { points: &points, limit, limit_says: &limit_says, below: &below, alt: &alt });
    let says = room.words.say("results.curve_says", &values)?;
    Ok(CurveView { drawn, alt, reached: highest >= limit, says, alarm: room.words.say("results.alarm", &values)? })
}

fn review(room: &Room, line: &ReviewLine) -> Result<ReviewView, DeskError> {
    let word = |group: &str, word: &Value| room.words.word(&format!("{group}.{}", word.as_str().unwrap_or_default()));
    let kind = word("outcome.kind", &json!(line.kind))?;
    let known = line.severity != Severity::Unknown;
    let severity = known.then(|| word("outcome.severity", &json!(line.severity))).transpose()?;
    let days = line.days.to_string();
    let says = if line.days == 0 { "results.review_day" } else { "results.review_line" };
    Ok(ReviewView {
        eye: line.eye,
        case: line.case,
        code: line.code.clone(),
        says: room.words.say(says, &[("kind", &kind), ("days", &days)])?,
        severity,
        done: line.done.clone(),
    })
}

/// The surgeons of the practice beside each other, whoever was asked for; nothing where there is only one.
fn beside(
    room: &Room,
    sessions: &[Session],
    outcomes: &[(CaseId, Outcome)],
    asked: &Asked,
    rule: &ResultsRule,
) -> Result<Option<FunnelView>, DeskError> {
    let (profile, today) = (&room.practice.profile, room.today());
    let of = |id: &str| {
        let selection = Selection { surgeon: Some(id.to_owned()), ..asked.selection.clone() };
        harm(&Eyes::of(sessions, outcomes, &selection, today), rule, &profile.thresholds)
    };
    let counted: Vec<Counted> = thread::scope(|scope| {
        let of = &of;
        let counting: Vec<_> = profile.surgeons.iter().map(|one| scope.spawn(move || of(&one.id))).collect();
        counting.into_iter().map(|one| one.join().unwrap_or_else(|panic| resume_unwind(panic))).collect()
    });
    let names = profile.surgeons.iter().map(|surgeon| surgeon.name.clone());
    let surgeons: Vec<_> = names.zip(counted).filter(|(_, counted)| counted.followed >= rule.least_eyes).collect();
    let Some(found) = funnel(&surgeons).filter(|found| found.points.len() > 1) else { return Ok(None) };
    let widest = found.points.iter().map(|point| point.counted.followed).max().unwrap_or(1);
    let share = |count: u32, of: u32| f64::from(count) / f64::from(of.max(1));
    let at = |size: u32| {
        let limits = limits(size, found.share);
        (size, [limits.inner.0, limits.inner.1, limits.outer.0, limits.outer.1].map(|count| share(count, size)))
    };
    let sizes: Vec<_> = (1..=40).map(|part| (widest * part / 40).max(1)).map(at).collect();
    let spots: Vec<charts::Spot> = found
        .points
        .iter()
        .map(|point| charts::Spot {
            name: point.surgeon.clone(),
            size: point.counted.followed,
            share: share(point.counted.affected, point.counted.followed),
        })
        .collect();
    let rows = found.points.iter().map(|point| SurgeonView {
        name: point.surgeon.clone(),
        affected: point.counted.affected,
        followed: point.counted.followed,
        from: point.limits.outer.0,
        to: point.limits.outer.1,
        high: point.is_high(),
    });
    let alt = of_all(room, &surgeons, found.share, rule)?;
    let below = room.words.word("results.eyes_followed")?;
    let percent =
        [95.0, 99.8].map(|percent| format!("{} %", room.words.locale.number(percent, u8::from(percent > 99.0))));
    let drawn = charts::funnel(&charts::Funnel {
        spots: &spots,
        share: found.share,
        limits: &sizes,
        limits_say: percent.each_ref().map(String::as_str),
        below: &below,
        alt: &alt,
    });
    Ok(Some(FunnelView { drawn, alt, rows: rows.collect() }))
}

/// What the picture of all surgeons shows, with what its share of all rests on.
fn of_all(room: &Room, surgeons: &[(String, Counted)], share: f64, rule: &ResultsRule) -> Result<String, DeskError> {
    let sum = |of: fn(&Counted) -> u32| surgeons.iter().map(|(_, counted)| of(counted)).sum::<u32>();
    let all = Counted {
        treated: sum(|one| one.treated),
        followed: sum(|one| one.followed),
        affected: sum(|one| one.affected),
    };
    let (low, high) = all.interval(rule.least_eyes).unwrap_or((0.0, 1.0));
    room.words.say(
        "results.funnel_alt",
        &[
            ("share", &rounded(room, share, f64::round)),
            ("affected", &room.words.locale.number(all.affected.into(), 0)),
            ("followed", &room.words.locale.number(all.followed.into(), 0)),
            ("months", &rule.window_months.to_string()),
            ("low", &rounded(room, low, f64::floor)),
            ("high", &rounded(room, high, f64::ceil)),
        ],
    )
}

/// The lines of the profile that bring the numbers into the consent: those of the whole practice, of enough eyes.
fn for_consent(results: &OwnResults, asked: &Asked, rule: &ResultsRule) -> Option<String> {
    let count = |endpoint: Endpoint| results.rows.iter().find(|row| row.endpoint == endpoint).map(|row| row.counted);
    let (better, torn) = (count(Endpoint::MuchBetter)?, count(Endpoint::TearOrDetachment)?);
    let enough = better.followed.min(torn.followed) >= rule.least_eyes;
    let whole = asked.selection == Selection::default() && rule.in_consent.is_none();
    let line = |counted: Counted| format!("{{ eyes = {}, followed = {} }}", counted.affected, counted.followed);
    (enough && whole).then(|| {
        format!(
            "[results.in_consent]\nup_to = \"{}\"\ntreated = {}\nmuch_better = {}\ntorn = {}\n",
            results.up_to,
            results.standing.treated,
            line(better),
            line(torn)
        )
    })
}

/// Energy of each session over time, and its pulses.
fn energy(room: &Room, eyes: &Eyes) -> Result<Option<EnergyView>, DeskError> {
    let mut sessions: Vec<(NaiveDate, f64, u32)> = eyes
        .eyes
        .iter()
        .flat_map(|eye| &eye.sessions)
        .map(|session| (session.on, session.energy_mj, session.pulses))
        .collect();
    sessions.sort_by_key(|(on, ..)| *on);
    let (Some(first), Some(last)) = (sessions.first().map(|one| one.0), sessions.last().map(|one| one.0)) else {
        return Ok(None);
    };
    let span = (last - first).num_days().max(1) as f64;
    let when = |on: NaiveDate| (on - first).num_days() as f64 / span;
    let ends = (room.words.locale.date(first), room.words.locale.date(last));
    let drawn = |key: &str, value: fn(&(NaiveDate, f64, u32)) -> f64| {
        let dots: Vec<(f64, f64)> = sessions.iter().map(|session| (when(session.0), value(session))).collect();
        let highest = room.words.locale.number(dots.iter().map(|dot| dot.1).fold(0.0, f64::max), 0);
        let middle = room.words.locale.number(median(dots.iter().map(|dot| dot.1).collect()), 0);
        let values = [("sessions", sessions.len().to_string()), ("middle", middle), ("highest", highest)];
        let values: Vec<(&str, &str)> = values.iter().map(|(name, value)| (*name, value.as_str())).collect();
        let (alt, below) =
            (room.words.say(&format!("results.{key}_alt"), &values)?, room.words.word(&format!("results.{key}"))?);
        let ends = (ends.0.as_str(), ends.1.as_str());
        Ok::<_, DeskError>((charts::dots(&charts::Dots { dots: &dots, ends, below: &below, alt: &alt }), alt))
    };
    let ((energy, energy_alt), (pulses, pulses_alt)) =
        (drawn("energy", |one| one.1)?, drawn("pulses", |one| one.2.into())?);
    Ok(Some(EnergyView { energy, energy_alt, pulses, pulses_alt }))
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or_default()
}
