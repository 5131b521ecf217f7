//! Checks against things outside the project, in Python (`tests/outside/`): published standards, CLDR, a ray-transfer
//! computation, independent readers of PDF and calendar files.
//!
//! This test makes all packets of the demo, writes the tables the checks compare with, and runs them. It needs Python
//! 3.11 or newer; the rest is fetched once into `target/`.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use chrono::{Datelike, NaiveDate, NaiveDateTime};
use serde_json::{Value, json};
use vitreoleaf::assets::{Assets, samples};
use vitreoleaf::content::locale::Locale;
use vitreoleaf::document::reading;
use vitreoleaf::facts::{hours, interval, optics};
use vitreoleaf::plain::measure::Measure;
use vitreoleaf::plain::{names, score, split};
use vitreoleaf::results::{self, Outcome, Rate};

#[test]
fn everything_holds_against_things_outside_the_project() {
    let target = Path::new(env!("CARGO_TARGET_TMPDIR"));
    let packets = target.join("packets");
    let _ = fs::remove_dir_all(&packets);
    for (path, bytes) in crate::demo::FILES.iter() {
        let place = packets.join(path);
        fs::create_dir_all(place.parent().unwrap()).unwrap();
        fs::write(place, bytes).unwrap();
    }
    write(&packets, "runs.json", &own_cases(&packets));
    write(&packets, "explained.json", &explained(&packets));
    write(&packets, "dates.json", &dates());
    write(&packets, "optics.json", &second_foci());
    write(&packets, "zones.json", &zones());
    write(&packets, "intervals.json", &intervals());
    write(&packets, "plain.json", &plain());
    write(&packets, "rates.json", &rates());
    write(&packets, "curves.json", &curves());
    write(&packets, "funnel.json", &funnel());
    outcomes(&packets);
    drops_before(&packets);
    every_language(&target.join("languages"));
    let run = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/run.py");
    let mut checks = Command::new("python3");
    checks.arg(run).arg(target.join("venv")).env("VITREOLEAF_PACKETS", &packets);
    checks.env("VITREOLEAF_LANGUAGES", target.join("languages")).env("VITREOLEAF", env!("CARGO_BIN_EXE_vitreoleaf"));
    let checks = checks.status();
    let checks = checks.expect("python3 is needed for the checks from outside the project");
    assert!(checks.success(), "the checks from outside failed; their report stands above");
}

fn write(folder: &Path, name: &str, value: &[Value]) {
    let path: PathBuf = folder.join(name);
    fs::write(path, serde_json::to_string(value).unwrap()).unwrap();
}

/// Packets of the cases in `tests/outside/cases/`, and how each run ended: each for the demo practice or with one point of
/// practice or record changed.
fn own_cases(packets: &Path) -> Vec<Value> {
    let profile = fs::read_to_string(packets.join("practice/profile.toml")).unwrap();
    let (texts, confirmation) = profile.split_once("[confirmation]").unwrap();
    let no_notices = format!("{}[confirmation]{confirmation}", texts.split("[notices.").next().unwrap());
    let germany = changed(&profile, "jurisdiction = \"us-facility\"", "jurisdiction = \"germany\"");
    let no_facility = changed(&profile, "name = \"Example Eye Practice\"", "name = \"\"");
    let no_surgeon = changed(&profile, "name = \"Dr. Ada Sample\"", "name = \"\"");
    let read = |name: &str| fs::read_to_string(own_case(name)).unwrap();
    let (companions, large, german) = (read("companions"), read("large-print"), read("germany"));
    let second = changed(&companions, "revision = 1", "revision = 2");
    let no_side = changed(&companions, "side = \"left\"\n", "");
    let both = changed(&companions, "side = \"left\"", "side = \"both\"");
    let no_reason = changed(&companions, "reason = \"a floater like a cobweb\"", "reason = \"\"");
    let tailored = "[[tailoring]]\nstatement = \"risk-sight-loss\"\nchange = \"leave_out\"\nby = \"Dr. Ada Sample\"\n\
                    on = 2026-08-05\nreason = \"Too frightening.\"\n";
    let core_left_out = format!("{german}\n{tailored}");
    // Name, folder of the pages, profile, record, moment.
    let runs = [
        ("companions", "companions", &profile, &companions, "before"),
        ("companions-again", "companions-again", &profile, &companions, "before"),
        ("companions-second-version", "companions", &profile, &second, "before"),
        ("large-print", "large-print", &profile, &large, "before"),
        ("germany-before", "germany", &germany, &german, "before"),
        ("germany-after", "germany", &germany, &german, "after"),
        ("no-notices", "no-notices", &no_notices, &companions, "before"),
        ("no-side", "no-side", &profile, &no_side, "before"),
        ("both-eyes", "both-eyes", &profile, &both, "before"),
        ("no-reason", "no-reason", &profile, &no_reason, "before"),
        ("no-facility", "no-facility", &no_facility, &companions, "before"),
        ("no-surgeon", "no-surgeon", &no_surgeon, &companions, "before"),
        ("core-left-out", "core-left-out", &germany, &core_left_out, "before"),
    ];
    let run = |(name, folder, profile, case, moment): (&str, &str, &String, &String, &str)| {
        let practice = packets.join("practices").join(name);
        fs::create_dir_all(&practice).unwrap();
        fs::write(practice.join("profile.toml"), profile).unwrap();
        fs::write(practice.join("case.toml"), case).unwrap();
        let issued = if moment == "before" { "2026-08-05T14:00:00Z" } else { "2026-08-07T16:00:00Z" };
        let mut print = vitreoleaf();
        print.arg("print").arg(practice.join("case.toml")).args(["--moment", moment, "--issued", issued]);
        print.arg("--practice").arg(practice).arg("--out").arg(packets.join(folder));
        let ended = print.output().unwrap();
        let said = [ended.stdout, ended.stderr].concat();
        json!({ "run": name, "exit": ended.status.code(), "said": String::from_utf8_lossy(&said) })
    };
    runs.into_iter().map(run).collect()
}

/// The paper that the demo does not call for: drops that begin before the laser.
fn drops_before(packets: &Path) {
    let folder = packets.join("begins-before");
    fs::create_dir_all(&folder).unwrap();
    let usual = "drug = \"prednisolone_acetate_1\"\n";
    let profile = fs::read_to_string(packets.join("practice/profile.toml")).unwrap();
    let practice = packets.join("practices/begins-before");
    fs::create_dir_all(&practice).unwrap();
    fs::write(practice.join("profile.toml"), changed(&profile, usual, &format!("{usual}starts = -2\n"))).unwrap();
    confirm(&practice);
    let mut print = vitreoleaf();
    print.arg("print").arg(own_case("companions")).args(["--moment", "before", "--issued", "2026-08-05T14:00:00Z"]);
    print.args(["--page", "drops-before", "--practice"]).arg(practice).arg("--out").arg(folder);
    let ended = print.output().unwrap();
    assert!(ended.status.success(), "{}", String::from_utf8_lossy(&ended.stderr));
}

/// Writes the hash of a practice into its profile.
fn confirm(practice: &Path) {
    let told = vitreoleaf().arg("confirm").arg("--practice").arg(practice).output().unwrap();
    let told = String::from_utf8(told.stdout).unwrap();
    let profile = fs::read_to_string(practice.join("profile.toml")).unwrap();
    let confirmed = profile.replace(crate::packets::hash_in(&profile), crate::packets::hash_in(&told));
    fs::write(practice.join("profile.toml"), confirmed).unwrap();
}

fn changed(text: &str, from: &str, to: &str) -> String {
    assert!(text.contains(from), "the text to change is gone: {from}");
    text.replace(from, to)
}

fn own_case(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/cases").join(name).with_extension("toml")
}

/// Which statements each consent was written from.
fn explained(packets: &Path) -> Vec<Value> {
    let folders = fs::read_dir(packets).unwrap().map(|folder| folder.unwrap().path().join("case.toml"));
    let own = ["companions", "large-print", "germany"].map(own_case);
    let cases: Vec<PathBuf> = folders.filter(|case| case.exists()).chain(own).collect();
    let mut explain = vitreoleaf();
    explain.args(["explain", "--moment", "before", "--format", "json", "--practice"]).arg(packets.join("practice"));
    let told = explain.args(cases).output().unwrap();
    assert!(told.status.success(), "{}", String::from_utf8_lossy(&told.stderr));
    serde_json::from_slice(&told.stdout).unwrap()
}

fn vitreoleaf() -> Command {
    Command::new(env!("CARGO_BIN_EXE_vitreoleaf"))
}

/// The demo's practice that prints in every language, and two patients who read each, one in standard and one in large
/// print. The checks add a font for Arabic and confirm it. The practice has a notice in each language.
const LANGUAGES: [(&str, &str); 5] = [
    ("en-GB", "Text of the clinic."),
    ("es-US", "Texto de la clínica."),
    ("fr", "Texte de la clinique."),
    ("de", "Text der Praxis."),
    ("ar", "نص من العيادة."),
];

/// An invented name as long as a record takes, of letters, marks and scripts from many places.
pub(crate) const LONG_NAME: &str = "Þóra Żółć-Ñandú Nguyễn Thị Ðặng Åsa-Märta Œuvre Čapková O’Hara Zoe\u{308} Ğışık Ωμέγα Παράδειγμα Ελένη Жанна \
                         Щукина-Ёлкина Ада";

fn every_language(folder: &Path) {
    let _ = fs::remove_dir_all(folder);
    assert_eq!(LONG_NAME.chars().count(), 120);
    let samples = samples();
    let tags: Vec<&str> = std::iter::once("en-US").chain(LANGUAGES.map(|(tag, _)| tag)).collect();
    let notices = LANGUAGES.map(|(tag, text)| format!("{tag} = {text:?}, ")).concat();
    let profile = changed(&samples["practice/profile.toml"], "[\"en-US\"]", &format!("{tags:?}"));
    let profile = changed(&profile, "text = { en-US =", &format!("text = {{ {notices}en-US ="));
    let mut files = BTreeMap::from([("profile.toml".to_owned(), profile)]);
    for (tag, _) in LANGUAGES {
        for case in ["ring-implant", "multifocal-glaucoma"] {
            let record = changed(&samples[&format!("{case}/case.toml")], "\"en-US\"", &format!("{tag:?}"));
            let reader = format!("[letters]\nreferred_by = {{ name = \"Dr. Muster\", language = {tag:?} }}\n");
            let record = format!("{record}\n{reader}");
            let record = match tag {
                "ar" => record.replacen("name = \"", "name = \"ليلى ", 1),
                _ => with_name(&record, LONG_NAME),
            };
            files.insert(format!("{tag}/{case}.toml"), record);
        }
    }
    // Four weeks of short dates side by side: the names of the days are widest in Arabic.
    let weeks = changed(&files["ar/ring-implant.toml"], "regimen = \"usual\"", "regimen = \"taper\"");
    let weeks = with_name(&weeks, "ليلى Muster").replace("EX-01", "EX-21").replace("000-101", "000-121");
    files.insert("ar/four-weeks.toml".to_owned(), weeks);
    for (path, text) in files {
        let place = folder.join(path);
        fs::create_dir_all(place.parent().unwrap()).unwrap();
        fs::write(place, text).unwrap();
    }
}

/// A record of a patient of another name.
fn with_name(record: &str, name: &str) -> String {
    let (before, after) = record.split_once("name = \"").unwrap();
    let (_, rest) = after.split_once('"').unwrap();
    format!("{before}name = \"{name}\"{rest}")
}

/// The long form of every day of four years, a leap year among them.
fn dates() -> Vec<Value> {
    let locale = Locale::load(&Assets::default(), "en-US").unwrap();
    let first = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap();
    let days = first.iter_days().take_while(|day| day.year() < 2030);
    days.map(|day| json!({ "date": day.to_string(), "long": locale.full_date(day) })).collect()
}

/// Clopper-Pearson intervals over small counts, the published examples, and upper limits when none was recorded.
fn intervals() -> Vec<Value> {
    let grid = (1..=60).flat_map(|n| (0..=n).step_by(7).map(move |k| (k, n)));
    let examples =
        [(81, 263), (15, 148), (0, 20), (1, 29), (29, 29), (19, 36), (3, 34), (457, 17615), (89, 896), (209, 7999)];
    let none = [14, 39, 50, 57, 100, 112, 167, 195, 1000].map(|n| (0, n));
    let all = grid.chain(examples).chain(none);
    all.map(|(k, n)| {
        let (low, high) = interval::clopper_pearson(k, n);
        json!({ "k": k, "n": n, "low": low, "high": high, "upper_in_1000": (high * 1000.0).ceil() as u32 })
    })
    .collect()
}

/// Events by time with their exact intervals.
fn rates() -> Vec<Value> {
    let grid = (0..=40).flat_map(|events| [0.5, 17.25, 100.0, 3651.0].map(|years| (events, years)));
    grid.map(|(events, eye_years)| {
        let (rate, low, high) = Rate { events, eyes: 1, eye_years }.in_100_years(1).unwrap();
        json!({ "events": events, "years": eye_years, "rate": rate, "low": low, "high": high })
    })
    .collect()
}

/// Limits of the curve of harm by simulation, and the curve of a row of eyes.
fn curves() -> Vec<Value> {
    let harms: Vec<bool> = (1..=120).map(|eye| eye % 37 == 0 || eye % 41 == 0 || eye % 29 == 0).collect();
    [(0.03, 0.08, 500), (0.06, 0.15, 500), (0.05, 0.1, 200), (0.01, 0.03, 1000)]
        .map(|(expected, alarming, eyes)| {
            let curve = results::chart(harms.iter().copied(), expected, alarming);
            json!({
                "expected": expected, "alarming": alarming, "eyes": eyes,
                "limit": results::limit(expected, alarming, eyes), "harms": harms,
                "heights": curve.points.iter().map(|point| point.height).collect::<Vec<_>>(),
            })
        })
        .into()
}

/// Exact limits of chance for surgeons beside each other.
fn funnel() -> Vec<Value> {
    let grid = [0.005, 0.03, 0.1, 0.5].into_iter().flat_map(|share| (1..=300).step_by(13).map(move |n| (n, share)));
    grid.map(|(followed, share)| {
        let limits = results::limits(followed, share);
        json!({ "n": followed, "share": share, "inner": limits.inner, "outer": limits.outer })
    })
    .collect()
}

/// The invented history as a table, and the same outcomes as data.
fn outcomes(packets: &Path) {
    let history = vitreoleaf::demo::history(NaiveDate::from_ymd_opt(2026, 8, 12).unwrap(), 300);
    let code = |record: &Value| record["case"]["code"].as_str().unwrap().to_owned();
    let rows: Vec<(String, Outcome)> = history
        .into_iter()
        .flat_map(|treated| treated.outcomes.into_iter().map(move |outcome| (code(&treated.record), outcome)))
        .collect();
    fs::write(
        packets.join("outcomes.csv"),
        results::write(rows.iter().map(|(code, outcome)| (code.as_str(), outcome))),
    )
    .unwrap();
    let rows = rows.iter().map(|(code, outcome)| json!({ "case": code, "outcome": outcome }));
    write(packets, "outcomes.json", &rows.collect::<Vec<_>>());
}

/// Counts and scores of what patients of the demo read, and of the texts counted by hand. Sentences with digits or with fewer
/// than three words are left out: the reference reads neither as we do.
fn plain() -> Vec<Value> {
    let both_read =
        |sentence: &&str| !sentence.contains(|c: char| c.is_ascii_digit()) && split::words(sentence).len() > 2;
    let row = |language: &str, texts: &[String]| {
        let measure = Measure::load(&Assets::default(), &crate::packets::lineage(language)).unwrap();
        let sentences = texts.iter().flat_map(|text| split::sentences(text, &measure.stops)).filter(both_read);
        let sentences: Vec<String> = sentences.map(|one| format!("{}.", one.trim_end_matches(['.', ':']))).collect();
        let scored = score::scored(&sentences, &measure);
        json!({ "language": language, "sentences": sentences, "scored": scored })
    };
    let mut rows = Vec::new();
    crate::plain::each_page(|case| {
        let document = case.unissued().unwrap();
        let texts = reading::read(&document).into_iter().flat_map(|passage| passage.running);
        rows.push(row("en-US", &texts.map(|text| names::left_out(&text, &names::of(case))).collect::<Vec<_>>()));
    });
    for language in ["en-US", "es-US", "de-DE", "fr-FR"] {
        rows.push(row(language, &crate::plain::texts_by_hand(language)));
    }
    rows
}

/// Second foci over a grid of distances and adds, without and with the treatment wavelength.
fn second_foci() -> Vec<Value> {
    let grid = (4..=20).flat_map(|mm| [1.5, 2.25, 3.0, 4.0].map(|add| (f64::from(mm), add)));
    let grid = grid.flat_map(|(mm, add)| [None, Some(550.0)].map(|nm| (mm, add, nm)));
    grid.map(|(mm, add, nm)| {
        let at_laser = nm.map_or(add, |nm| optics::add_at_laser_d(add, nm));
        json!({
            "distance_mm": mm,
            "add_d": add,
            "wavelength": nm,
            "front_mm": optics::in_front_mm(mm, at_laser),
            "behind_mm": optics::behind_mm(mm, at_laser),
        })
    })
    .collect()
}

/// Local times around the clock changes of three zones as instants.
fn zones() -> Vec<Value> {
    let mut rows = Vec::new();
    for (zone, days) in [
        ("America/New_York", ["2026-03-07", "2026-03-08", "2026-10-31", "2026-11-01", "2027-03-14", "2027-11-07"]),
        ("Europe/Berlin", ["2026-03-28", "2026-03-29", "2026-10-24", "2026-10-25", "2027-03-28", "2027-10-31"]),
        ("Europe/London", ["2026-03-28", "2026-03-29", "2026-10-24", "2026-10-25", "2027-03-28", "2027-10-31"]),
    ] {
        let tz: chrono_tz::Tz = zone.parse().unwrap();
        for day in days {
            for time in ["00:15", "08:00", "14:30", "22:45"] {
                let local = NaiveDateTime::parse_from_str(&format!("{day}T{time}"), "%Y-%m-%dT%H:%M").unwrap();
                let utc = hours::instant(tz, local).to_utc().format("%Y-%m-%dT%H:%M:%SZ").to_string();
                rows.push(json!({ "zone": zone, "local": format!("{day}T{time}"), "utc": utc }));
            }
        }
    }
    rows
}
