//! A practice's own results: benefit and each harm as k of n followed of N treated, by one rule.

use chrono::{Days, NaiveDate};
use serde::Serialize;

use super::count::{Counted, Rate};
use super::cusum::{self, Chart};
use super::eyes::{Eye, Eyes, Standing, Window};
use super::outcome::{Change, EventKind, Severity};
use crate::record::course;
use crate::record::eye::Lens;
use crate::record::known::{Answer, Known};
use crate::record::profile::{ResultsRule, Thresholds};

/// A pressure this many days after the session or later is no longer that of the laser. Common practice, no source.
const LASTING_FROM: u64 = 30;

/// So many lines fewer are a loss of sight: two, a fifth of logMAR. Common practice, no source.
const LINES: f64 = 2.0;

/// What is counted of an eye.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Endpoint {
    /// The floaters are gone or much better at the end of the window.
    MuchBetter,
    /// They are a little better, the same or worse.
    LittleOrNot,
    /// The eye had further laser treatment within the window.
    FurtherLaser,
    /// The eye had surgery inside it within the window.
    Surgery,
    /// The retina tore or came off within the window.
    TearOrDetachment,
    /// The pressure was at the practice's limit for staying, or above it, on the day of a session.
    PressureDay,
    /// The pressure stayed high.
    LastingPressure,
    /// The natural lens was hit; of eyes that have one.
    LensHit,
    /// The implant has a mark; of eyes that have one.
    ImplantMarked,
    /// Two lines or more fewer are read at the end of the window than before.
    SightLoss,
}

impl Endpoint {
    /// All, benefit first.
    pub const ALL: [Self; 10] = [
        Self::MuchBetter,
        Self::LittleOrNot,
        Self::FurtherLaser,
        Self::Surgery,
        Self::TearOrDetachment,
        Self::PressureDay,
        Self::LastingPressure,
        Self::LensHit,
        Self::ImplantMarked,
        Self::SightLoss,
    ];

    /// What adds up in the curve of harm.
    const HARM: [Self; 4] = [Self::TearOrDetachment, Self::LastingPressure, Self::LensHit, Self::SightLoss];

    /// Whether it says how much the treatment helped.
    #[must_use]
    pub fn is_help(self) -> bool {
        matches!(self, Self::MuchBetter | Self::LittleOrNot | Self::FurtherLaser | Self::Surgery)
    }

    /// Its word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::MuchBetter => "much_better",
            Self::LittleOrNot => "little_or_not",
            Self::FurtherLaser => "further_laser",
            Self::Surgery => "surgery",
            Self::TearOrDetachment => "tear_or_detachment",
            Self::PressureDay => "pressure_day",
            Self::LastingPressure => "lasting_pressure",
            Self::LensHit => "lens_hit",
            Self::ImplantMarked => "implant_marked",
            Self::SightLoss => "sight_loss",
        }
    }

    /// Whether it is seen on the day of a session.
    #[must_use]
    pub fn same_day(self) -> bool {
        matches!(self, Self::PressureDay | Self::LensHit | Self::ImplantMarked)
    }
}

/// What is known of one endpoint of one eye.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fate {
    /// The eye cannot have it.
    Outside,
    NotKnown,
    No,
    Yes,
}

impl Fate {
    fn of(known: Option<bool>) -> Self {
        match known {
            None => Self::NotKnown,
            Some(false) => Self::No,
            Some(true) => Self::Yes,
        }
    }
}

/// One line of the results.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Row {
    /// What is counted.
    pub endpoint: Endpoint,
    /// How often.
    pub counted: Counted,
}

/// An event that somebody should look at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ReviewLine {
    /// Which eye, in the order in which they were first treated, from 1.
    pub eye: usize,
    /// Number of the case.
    pub case: i64,
    /// Code of the case.
    pub code: Option<String>,
    /// What happened.
    pub kind: EventKind,
    /// When it was found.
    pub on: NaiveDate,
    /// Days after the first session.
    pub days: i64,
    /// How heavy.
    pub severity: Severity,
    /// What was done.
    pub done: Option<String>,
}

/// The results.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OwnResults {
    /// The day up to which was counted.
    pub up_to: NaiveDate,
    /// How many eyes were followed for the window.
    pub standing: Standing,
    /// Benefit and harm.
    pub rows: Vec<Row>,
    /// Events of each kind by the time in which eyes were followed.
    pub rates: Vec<(EventKind, Rate)>,
    /// Each tear, detachment, lens hit, mark and lasting pressure, the newest first.
    pub review: Vec<ReviewLine>,
    /// The curve of harm, eye by eye.
    pub curve: Chart,
    /// How many eyes had harm, of those whose fate is known.
    pub harm: Counted,
}

/// Counts the eyes.
#[must_use]
pub fn own(eyes: &Eyes, rule: &ResultsRule, limits: &Thresholds) -> OwnResults {
    let counting = Counting { rule, limits, up_to: eyes.up_to };
    let harms: Vec<Fate> = eyes.eyes.iter().map(|eye| counting.harm(eye)).collect();
    let time = followed_time(eyes);
    let known = harms.iter().filter(|fate| matches!(fate, Fate::No | Fate::Yes)).map(|fate| *fate == Fate::Yes);
    OwnResults {
        up_to: eyes.up_to,
        standing: eyes.standing(rule.window_months, rule.early_days),
        rows: Endpoint::ALL.map(|endpoint| Row { endpoint, counted: counting.count(eyes, endpoint) }).into(),
        rates: KINDS.map(|kind| (kind, Rate { events: events(eyes, kind), ..time })).into(),
        review: review(eyes, &counting),
        curve: cusum::chart(known, rule.expected_harm, rule.alarming_harm),
        harm: counted(harms),
    }
}

/// How many eyes had any of the harms that add up, of those whose fate is known.
#[must_use]
pub fn harm(eyes: &Eyes, rule: &ResultsRule, limits: &Thresholds) -> Counted {
    let counting = Counting { rule, limits, up_to: eyes.up_to };
    counted(eyes.eyes.iter().map(|eye| counting.harm(eye)))
}

/// Kinds of which events are counted by time.
const KINDS: [EventKind; 5] = [
    EventKind::Tear,
    EventKind::Detachment,
    EventKind::LastingPressure,
    EventKind::Cataract,
    EventKind::VitreousBleeding,
];

/// Kinds of which each event is looked at by itself.
const REVIEWED: [EventKind; 5] = [
    EventKind::Tear,
    EventKind::Detachment,
    EventKind::CapsuleOrLens,
    EventKind::ImplantMarked,
    EventKind::LastingPressure,
];

fn counted(fates: impl IntoIterator<Item = Fate>) -> Counted {
    let mut counted = Counted::default();
    for fate in fates.into_iter().filter(|fate| *fate != Fate::Outside) {
        counted.treated += 1;
        counted.followed += u32::from(fate != Fate::NotKnown);
        counted.affected += u32::from(fate == Fate::Yes);
    }
    counted
}

fn events(eyes: &Eyes, kind: EventKind) -> u32 {
    let told = eyes.eyes.iter().flat_map(|eye| &eye.outcomes).flat_map(|outcome| &outcome.events);
    u32::try_from(told.filter(|event| event.kind == kind).count()).unwrap_or(u32::MAX)
}

/// The time in which eyes were followed, without any event.
fn followed_time(eyes: &Eyes) -> Rate {
    let years: Vec<f64> = eyes.eyes.iter().map(Eye::years).filter(|years| *years > 0.0).collect();
    Rate { events: 0, eyes: u32::try_from(years.len()).unwrap_or(u32::MAX), eye_years: years.iter().sum() }
}

/// What is counted by.
struct Counting<'a> {
    rule: &'a ResultsRule,
    limits: &'a Thresholds,
    up_to: NaiveDate,
}

impl Counting<'_> {
    fn count(&self, eyes: &Eyes, endpoint: Endpoint) -> Counted {
        counted(eyes.eyes.iter().map(|eye| self.fate(eye, endpoint)))
    }

    fn window(&self, eye: &Eye) -> Window {
        Window::after(eye.first.on, self.rule.window_months, self.rule.early_days)
    }

    /// Any of the harms that add up. An eye of which one is not known is not taken for unharmed.
    fn harm(&self, eye: &Eye) -> Fate {
        let fates = Endpoint::HARM.map(|endpoint| self.fate(eye, endpoint));
        match (fates.contains(&Fate::Yes), fates[0]) {
            (true, _) => Fate::Yes,
            (false, retina) => retina,
        }
    }

    fn fate(&self, eye: &Eye, endpoint: Endpoint) -> Fate {
        let window = self.window(eye);
        let followed = || eye.at_end(window, |_| true).map(|_| false);
        let change = || eye.at_end(window, |outcome| outcome.change != Change::Unknown).map(|outcome| outcome.change);
        let much = |change| matches!(change, Change::Gone | Change::MuchBetter);
        // An eye with the event is known, also if it was not seen again.
        let or_yes = |yes: bool, known: Option<bool>| Fate::of(if yes { Some(true) } else { known });
        match endpoint {
            Endpoint::MuchBetter => Fate::of(change().map(much)),
            Endpoint::LittleOrNot => Fate::of(change().map(|change| !much(change))),
            Endpoint::FurtherLaser => {
                let again = eye.sessions.iter().skip(1).any(|session| session.on <= window.end);
                let told = eye.within(window).any(|outcome| outcome.further_laser == Answer::Yes);
                or_yes(again || told, followed())
            }
            Endpoint::Surgery => or_yes(eye.within(window).any(|outcome| outcome.surgery == Answer::Yes), followed()),
            Endpoint::TearOrDetachment => {
                or_yes(eye.had(&[EventKind::Tear, EventKind::Detachment], window.end), followed())
            }
            Endpoint::PressureDay => self.pressure_day(eye),
            Endpoint::LastingPressure => or_yes(self.lasting(eye, window).is_some(), followed()),
            Endpoint::LensHit if eye.first.lens != Lens::Natural => Fate::Outside,
            Endpoint::LensHit => hit(eye, course::EventKind::CapsuleOrLens, EventKind::CapsuleOrLens),
            Endpoint::ImplantMarked if eye.first.lens != Lens::Implant => Fate::Outside,
            Endpoint::ImplantMarked => hit(eye, course::EventKind::ImplantMarked, EventKind::ImplantMarked),
            Endpoint::SightLoss => Fate::of(sight_lost(eye, window)),
        }
    }

    /// The highest pressure of each day of a session, of eyes in which it was measured.
    fn pressure_day(&self, eye: &Eye) -> Fate {
        let highest = eye.sessions.iter().filter_map(|session| session.pressure_day).reduce(f64::max);
        Fate::of(highest.map(|mmhg| mmhg >= self.limits.pressure_after.stay_mmhg))
    }

    /// The day since which the pressure stays high: as an event, or measured at the limit and risen.
    fn lasting(&self, eye: &Eye, window: Window) -> Option<NaiveDate> {
        let told = eye.outcomes.iter().flat_map(|outcome| &outcome.events);
        let told = told.filter(|event| event.kind == EventKind::LastingPressure && event.on.0 <= window.end);
        let from = eye.first.on.checked_add_days(Days::new(LASTING_FROM))?;
        let before = eye.first.pressure_before.unwrap_or_default();
        let high = |mmhg: f64| {
            mmhg >= self.limits.pressure_limit_mmhg && mmhg >= before + self.limits.pressure_after.raised_rise_mmhg
        };
        let measured = eye.within(window).filter(|outcome| outcome.on.0 >= from);
        let measured = measured.filter(|outcome| outcome.pressure_mmhg.value().is_some_and(high));
        told.map(|event| event.on.0).chain(measured.map(|outcome| outcome.on.0)).min()
    }
}

/// What is recorded of the day of a session is known of every eye that was treated.
fn hit(eye: &Eye, on_the_day: course::EventKind, later: EventKind) -> Fate {
    let day = eye.sessions.iter().any(|session| session.has(on_the_day));
    Fate::of(Some(day || eye.had(&[later], NaiveDate::MAX)))
}

fn sight_lost(eye: &Eye, window: Window) -> Option<bool> {
    let before = eye.first.acuity.as_ref()?;
    let seen = eye.at_end(window, |outcome| outcome.acuity != Known::Unknown)?;
    Some(seen.acuity.as_ref()?.lines_lost_since(before) >= LINES)
}

fn review(eyes: &Eyes, counting: &Counting) -> Vec<ReviewLine> {
    let mut lines: Vec<ReviewLine> =
        eyes.eyes.iter().zip(1..).flat_map(|(eye, number)| lines_of(eye, number, counting)).collect();
    lines.sort_by_key(|line| std::cmp::Reverse((line.on, line.eye)));
    lines
}

fn lines_of(eye: &Eye, number: usize, counting: &Counting) -> Vec<ReviewLine> {
    let line = |kind, on: NaiveDate| ReviewLine {
        eye: number,
        case: eye.first.case,
        code: eye.first.code.clone(),
        kind,
        on,
        days: (on - eye.first.on).num_days(),
        severity: Severity::Unknown,
        done: None,
    };
    let told = eye.outcomes.iter().flat_map(|outcome| &outcome.events);
    let told = told.filter(|event| REVIEWED.contains(&event.kind));
    let mut lines: Vec<ReviewLine> = told
        .map(|event| ReviewLine { severity: event.severity, done: event.done.clone(), ..line(event.kind, event.on.0) })
        .collect();
    for session in &eye.sessions {
        let hits = [
            (course::EventKind::CapsuleOrLens, EventKind::CapsuleOrLens),
            (course::EventKind::ImplantMarked, EventKind::ImplantMarked),
        ];
        lines.extend(hits.into_iter().filter(|(day, _)| session.has(*day)).map(|(_, kind)| line(kind, session.on)));
    }
    let has_lasting = lines.iter().any(|line| line.kind == EventKind::LastingPressure);
    if let Some(since) = counting.lasting(eye, counting.window(eye)).filter(|_| !has_lasting) {
        lines.push(line(EventKind::LastingPressure, since));
    }
    lines.retain(|line| line.on <= counting.up_to);
    lines
}
