//! Laws of whole packets: what always prints, what is withheld, and that a case never prints what contradicts it.

use std::collections::BTreeMap;
use std::sync::LazyLock;
#[cfg(feature = "typeset")]
use std::time::{Duration, Instant};

use vitreoleaf::assets::{Assets, samples};
use vitreoleaf::content::folders::Folders;
use vitreoleaf::demo;
use vitreoleaf::diag::SourceFile;
use vitreoleaf::document::Page;
use vitreoleaf::document::sheet::Withheld;
use vitreoleaf::facts::Moment;
use vitreoleaf::findings::Finding;
use vitreoleaf::packet::{Assessment, Case, Form, Output, Packet};
use vitreoleaf::practice::{Checked, Confirmed, Files, Practice, PracticeError};
use vitreoleaf::record::course::FindingAnswer;
use vitreoleaf::record::date::Date;
use vitreoleaf::record::{Record, load};
#[cfg(feature = "typeset")]
use vitreoleaf::render::{apart::Limits, typeset::Typesetter};

/// A practice from the text of its profile.
pub(crate) fn practice_of(profile: &str, assets: Assets) -> Practice {
    assembled(profile, assets).unwrap_or_else(|error| panic!("{error}"))
}

pub(crate) fn assembled(profile: &str, assets: Assets) -> Result<Practice, PracticeError> {
    let file = SourceFile { name: "profile.toml".into(), text: profile.into() };
    Practice::assemble(Checked::read(&file, Files::of(assets)?)?)
}

/// The hash of a confirmation in the text of a profile.
pub(crate) fn hash_in(profile: &str) -> &str {
    profile.split_once("\nhash = \"").and_then(|(_, rest)| rest.split_once('"')).expect("a hash").0
}

/// The demo's practice as it is, made once for all tests.
static PLAIN: LazyLock<Practice> = LazyLock::new(|| confirmed(&samples()["practice/profile.toml"], BTreeMap::new()));

/// A practice whose confirmation is current, from the demo's profile with changes.
pub(crate) fn practice(change: impl Fn(String) -> String, own: BTreeMap<String, String>) -> Practice {
    let profile = samples().remove("practice/profile.toml").expect("the demo has a practice");
    let changed = change(profile.clone());
    if changed == profile && own.is_empty() { PLAIN.clone() } else { confirmed(&changed, own) }
}

fn confirmed(profile: &str, own: BTreeMap<String, String>) -> Practice {
    let practice = practice_of(profile, Assets::new(own.clone()));
    match practice.confirmed() {
        Confirmed::Stale => {
            let confirmed = profile.replace(hash_in(profile), practice.clinical_hash());
            practice_of(&confirmed, Assets::new(own))
        }
        Confirmed::Current | Confirmed::Missing => practice,
    }
}

/// An invented case of the demo, changed.
pub(crate) fn record(name: &str, change: impl Fn(String) -> String) -> Record {
    let text = change(samples()[&format!("{name}/case.toml")].clone());
    let file = SourceFile { name: "case.toml".into(), text };
    load::load::<Record>(&file).unwrap_or_else(|report| panic!("{report:?}")).value
}

/// A record as it goes on: checked for this practice.
pub(crate) fn checked(practice: &Practice, record: &Record) -> Checked<Record> {
    Checked::of(record, practice.clone()).unwrap_or_else(|refused| panic!("{refused}"))
}

/// The record with answers to some of its findings, given on the planned day by the practice's first surgeon.
pub(crate) fn answered(practice: &Practice, record: Record, moment: Moment, ids: &[&str]) -> Record {
    answered_in(&checked(practice, &record), moment, ids)
}

/// The same, with what is known beside the record.
pub(crate) fn answered_in(checked: &Checked<Record>, moment: Moment, ids: &[&str]) -> Record {
    let (practice, mut record) = (checked.with(), Record::clone(checked));
    let findings = Assessment::of(checked, moment).findings;
    record.answers.extend(ids.iter().map(|id| {
        let finding = findings.0.iter().find(|finding| finding.id == *id);
        FindingAnswer {
            finding: (*id).to_owned(),
            by: practice.profile.surgeons[0].name.clone(),
            on: Date(record.plan.start.0.date()),
            reason: "Examined and weighed again: it is right to go on.".into(),
            fingerprint: finding.map(Finding::fingerprint),
            values: finding.map(|finding| finding.values_in_words(true)).unwrap_or_default(),
        }
    }));
    record
}

/// The languages that the folders of a language are read from, built in.
pub(crate) fn lineage(tag: &str) -> Vec<String> {
    let assets = Assets::default();
    vitreoleaf::content::lineage::lineage(&Folders::new(&assets), tag).expect("a language")
}

/// Pages are made for paper; without the typesetter, for a browser.
#[cfg(feature = "typeset")]
pub(crate) const FORM: Form = Form::Pdf;
#[cfg(not(feature = "typeset"))]
pub(crate) const FORM: Form = Form::Html;

pub(crate) fn made(practice: &Practice, record: &Record, moment: Moment) -> Packet {
    let checked = checked(practice, record);
    let case = Case::new(&checked, moment).unwrap();
    case.packet_as(&[FORM], demo::issued(record, moment)).unwrap()
}

/// Why a packet withholds pages, if it does.
pub(crate) fn reason(packet: &Packet) -> Option<Withheld> {
    packet.withheld.as_ref().map(|withheld| withheld.reason)
}

/// The names of the files without their endings.
fn names(packet: &Packet) -> Vec<&str> {
    packet.files.iter().filter_map(|file| Some(file.name.split_once('.')?.0)).collect()
}

fn same(text: String) -> String {
    text
}

#[test]
fn an_open_stop_withholds_the_consent_and_nothing_else() {
    let practice = practice(same, BTreeMap::new());
    let packet = made(&practice, &record("young-detachment", same), Moment::Before);
    assert_eq!(reason(&packet), Some(Withheld::Findings));
    assert_eq!(names(&packet), ["EX-04-r1-before-surgeon", "EX-04-r1-before-desk", "EX-04-r1-before-packet"]);
}

/// After a change of a rule, a limit or a text the demo's answers have to name other values: this prints them.
#[test]
fn the_answers_of_the_demo_settle_their_findings() {
    let practice = practice(same, BTreeMap::new());
    let mut wrong = Vec::new();
    for name in samples().keys().filter_map(|path| path.strip_suffix("/case.toml")) {
        let record = checked(&practice, &record(name, same));
        for moment in demo::moments(&record) {
            let findings = Assessment::of(&record, moment).findings.0;
            let unsettled = findings.iter().filter(|finding| finding.unsettled.is_some());
            wrong.extend(unsettled.map(|finding| format!("{name}, {}: {}", finding.id, finding.fingerprint())));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn an_answer_by_name_date_and_reason_releases_it() {
    let practice = practice(same, BTreeMap::new());
    let ids = ["detachment-young", "complaint-recent", "new-signs-unknown", "examination-old"];
    let answered = answered(&practice, record("young-detachment", same), Moment::Before, &ids);
    let packet = made(&practice, &answered, Moment::Before);
    assert_eq!(packet.withheld, None);
    assert!(names(&packet).contains(&"EX-04-r1-before-consent"));
}

/// It is seen before anything else, in bold.
#[test]
fn a_released_stop_stands_in_bold_on_the_surgeons_sheet() {
    let practice = practice(same, BTreeMap::new());
    let answered = answered(&practice, record("young-detachment", same), Moment::Before, &["detachment-young"]);
    let checked = checked(&practice, &answered);
    let case = Case::new(&checked, Moment::Before).unwrap();
    let documents = case.documents(demo::issued(&answered, Moment::Before)).unwrap();
    let surgeon = documents.into_iter().find(|document| document.page == Page::Surgeon).unwrap();
    let blocks = serde_json::to_string(&surgeon.blocks).unwrap();
    let bold = "{\"t\":\"strong\",\"v\":[{\"t\":\"text\",\"v\":\"Stop released: Young vitreous detachment";
    assert_eq!(blocks.matches(bold).count(), 1, "{blocks}");
}

#[test]
fn after_the_treatment_a_drug_stop_withholds_the_drop_plan_only() {
    let practice = practice(same, BTreeMap::new());
    let packet = made(&practice, &record("asthma-drops", same), Moment::After);
    assert_eq!(reason(&packet), Some(Withheld::Findings));
    assert!(names(&packet).contains(&"EX-06-r1-after-aftercare"));
    let calendar = packet.files.iter().find(|file| file.name.ends_with(".ics")).expect("visits still print");
    let calendar = String::from_utf8(calendar.bytes.clone()).unwrap();
    assert!(!calendar.contains("dose-"), "no dose may be in the calendar");
    assert!(calendar.contains("visit-week"), "visits are");
}

#[test]
fn after_the_treatment_a_stop_of_the_eye_withholds_nothing() {
    let practice = practice(same, BTreeMap::new());
    let treated = record("ring-implant", |text| text.replace("retinal_tear = \"no\"", "retinal_tear = \"yes\""));
    let packet = made(&practice, &treated, Moment::After);
    assert!(packet.findings.0.iter().any(|finding| finding.id == "retinal-tear" && finding.open()));
    assert_eq!(packet.withheld, None);
    assert!(names(&packet).contains(&"EX-01-r1-after-aftercare"));
}

#[test]
fn without_a_current_confirmation_no_consent_and_no_drop_plan_is_made() {
    let record = record("ring-implant", same);
    let profile = samples()["practice/profile.toml"].clone();
    let missing = practice_of(profile.split("[confirmation]").next().unwrap(), Assets::default());
    assert_eq!(missing.confirmed(), Confirmed::Missing);
    assert!(profile.contains("clearance_stop_mm = 3\n"));
    let stale =
        practice_of(&profile.replace("clearance_stop_mm = 3\n", "clearance_stop_mm = 2.5\n"), Assets::default());
    assert_eq!(stale.confirmed(), Confirmed::Stale);
    for practice in [missing, stale] {
        let before = made(&practice, &record, Moment::Before);
        assert!(before.withheld.is_some());
        assert!(names(&before).iter().all(|name| !name.contains("consent")));
        assert!(names(&before).iter().any(|name| name.contains("surgeon")));
        // Once the treatment is done nothing withholds the aftercare; the drop plan is.
        let after = made(&practice, &record, Moment::After);
        assert!(after.withheld.is_some());
        let calendar = after.files.iter().find(|file| file.name.ends_with(".ics")).expect("visits still print");
        assert!(!String::from_utf8(calendar.bytes.clone()).unwrap().contains("dose-"));
    }
}

/// A change in any clinical file makes the confirmation stale.
#[test]
fn the_confirmation_covers_rules_evidence_statements_and_wording() {
    let plain = practice(same, BTreeMap::new());
    for (path, text) in [
        ("templates/findings.toml", "# changed"),
        ("templates/drug-rules.toml", "# changed"),
        ("templates/formulary.toml", concat!(include_str!("../templates/formulary.toml"), "# changed\n")),
        ("templates/medicines.toml", "# changed\n"),
        ("templates/evidence.toml", "# changed"),
        ("locales/en-US/statements/risk-lens.md", "changed"),
        ("locales/en-US/words.toml", "# changed"),
        ("templates/pages/page.typ", "changed"),
    ] {
        let changed = practice(same, BTreeMap::from([(path.to_owned(), text.to_owned())]));
        assert_ne!(changed.clinical_hash(), plain.clinical_hash(), "{path}");
    }
}

/// Same input, same bytes; in threads too.
#[test]
fn the_same_input_gives_the_same_bytes() {
    let practice = practice(same, BTreeMap::new());
    let record = record("natural-lens", same);
    let once = made(&practice, &record, Moment::After);
    std::thread::scope(|scope| {
        let again: Vec<_> = (0..3).map(|_| scope.spawn(|| made(&practice, &record, Moment::After))).collect();
        for packet in again {
            let packet = packet.join().unwrap();
            for (first, second) in once.files.iter().zip(&packet.files) {
                assert!(first.bytes == second.bytes, "{} differs", first.name);
            }
        }
    });
}

/// Text of a record reaches the page as text: neither as markup of the layout nor of the statements.
#[test]
fn a_name_that_looks_like_code_prints_as_it_is() {
    let practice = practice(same, BTreeMap::new());
    for hostile in ["#panic[*", "{{ patient }}", "<b>x</b>", "*a* _b_ `c`", "[x](y)", "$ 1 $", "= Heading"] {
        let record = record("ring-implant", |text| {
            text.replace("Rosa Beispiel", hostile).replace("a ring-shaped floater", hostile)
        });
        let checked = checked(&practice, &record);
        let case = Case::new(&checked, Moment::Before).unwrap();
        let documents = case.documents(chrono::NaiveDateTime::default()).unwrap();
        assert_eq!(documents[0].header.name, hostile);
        assert!(
            serde_json::to_value(&documents[0])
                .unwrap()
                .to_string()
                .contains(&serde_json::json!(hostile).to_string()[1..hostile.len()])
        );
        case.packet_as(&[FORM], demo::issued(&record, Moment::Before)).unwrap();
    }
}

/// A glyph the print font lacks stops the page with its code point, and does not repeat the private text.
#[cfg(feature = "typeset")]
#[test]
fn a_missing_glyph_stops_the_page_without_naming_the_patient() {
    let practice = practice(same, BTreeMap::new());
    let record = record("ring-implant", |text| text.replace("Rosa Beispiel", "Rosa \u{4e2d}"));
    let checked = checked(&practice, &record);
    let case = Case::new(&checked, Moment::Before).unwrap();
    let error = case.packet(demo::issued(&record, Moment::Before)).unwrap_err().to_string();
    assert!(error.contains("U+4E2D"), "{error}");
    assert!(!error.contains("Rosa"), "{error}");
}

/// A practice with a layout file of its own, which the program lays out apart.
#[cfg(feature = "typeset")]
pub(crate) fn with_layout(file: &str, text: String, limits: Limits) -> Practice {
    let practice = practice(same, BTreeMap::from([(format!("templates/pages/{file}"), text)]));
    let typesetter = Typesetter::new(&practice.assets, &practice.fonts);
    practice.typeset_by(typesetter.apart(env!("CARGO_BIN_EXE_vitreoleaf").into(), limits))
}

/// A layout of the practice's own that never ends, or takes all memory, is ended and named; neither the program nor the
/// machine is harmed.
#[cfg(feature = "typeset")]
#[test]
fn a_layout_of_the_practice_that_goes_on_forever_is_ended() {
    let quick = Limits { time: Duration::from_secs(3), ..Limits::default() };
    let small = Limits { time: Duration::from_secs(60), memory: 200 << 20 };
    let record = record("ring-implant", same);
    for (text, limits, why) in [
        ("#for a in range(9999) { for b in range(9999) { for c in range(9999) {} } }", quick, "takes too long"),
        ("#let numbers = range(400000000)", small, "takes too much memory"),
        ("#let deep(n) = deep(n + 1)\n#deep(0)", small, "templates/pages/page.typ:1: the layout stops here"),
    ] {
        let practice = with_layout("page.typ", text.into(), limits);
        let checked = checked(&practice, &record);
        let case = Case::new(&checked, Moment::Before).unwrap();
        let start = Instant::now();
        let refused = case.packet(demo::issued(&record, Moment::Before)).map(|_| ()).unwrap_err().to_string();
        assert!(refused.contains("templates/pages/page.typ") && refused.contains(why), "{refused}");
        assert!(start.elapsed() < limits.time + Duration::from_secs(20), "{text}: {:?}", start.elapsed());
    }
    // What is no answer is none, too.
    let practice = with_layout("page.typ", "One page.".into(), quick);
    let typesetter = Typesetter::new(&practice.assets, &practice.fonts).apart("no-such-program".into(), quick);
    let practice = practice.typeset_by(typesetter);
    let checked = checked(&practice, &record);
    let refused = Case::new(&checked, Moment::Before).unwrap().packet(demo::issued(&record, Moment::Before));
    assert!(
        refused.map(|_| ()).unwrap_err().to_string().contains("templates/pages/page.typ: the page cannot be laid out")
    );
}

/// A treated patient leaves with pages: what cannot be printed is marked, and the page and the surgeon's sheet say so. A name
/// that cannot be printed gives way to the name in Latin letters, else to record number and date of birth. Before the treatment
/// the page is refused.
#[cfg(feature = "typeset")]
#[test]
fn a_treated_patient_gets_pages_whatever_cannot_be_printed() {
    let practice = practice(same, BTreeMap::new());
    let says = |text: &str, says: &str| text.contains(says);
    for (from, to, head) in [
        ("Rosa Beispiel", "\u{738B}\u{5C0F}", "record 000-101"),
        ("name = \"Rosa Beispiel\"", "name = \"\u{738B}\"\nlatin_name = \"Wang\"", "Wang"),
        ("lisinopril", "\u{738B}", "Rosa Beispiel"),
    ] {
        let record = record("ring-implant", |text| text.replace(from, to));
        let packet = made(&practice, &record, Moment::After);
        assert!(names(&packet).contains(&"EX-01-r1-after-aftercare"));
        let checked = checked(&practice, &record);
        let case = Case::new(&checked, Moment::After).unwrap();
        let issued = demo::issued(&record, Moment::After);
        let documents = case.readable(case.documents(issued).unwrap(), Form::Pdf).unwrap();
        let told: Vec<&str> = documents.iter().flat_map(|page| &page.banner).map(|line| line.text.as_str()).collect();
        assert!(documents.iter().all(|page| page.header.name == head));
        let surgeon = documents.iter().find(|page| page.page == Page::Surgeon).unwrap();
        assert_eq!(surgeon.marked, head != "Wang");
        assert_eq!(told.iter().any(|text| says(text, "cannot be printed here")), head != "Wang", "{told:?}");
        assert_eq!(case.refused_pages().unwrap(), []);
        let before = Case::new(&checked, Moment::Before).unwrap();
        let refused = before.refused_pages().unwrap();
        assert_eq!(refused.is_empty(), head == "Wang", "{refused:?}");
        assert_eq!(before.packet(issued).is_err(), !refused.is_empty());
    }
}

/// Only what is chosen is made; the foot alone tells when a page was issued.
#[test]
fn a_page_is_chosen_before_it_is_laid_out() {
    let practice = practice(same, BTreeMap::new());
    let record = record("ring-implant", same);
    let checked = checked(&practice, &record);
    let case = Case::new(&checked, Moment::Before).unwrap();
    let issued = demo::issued(&record, Moment::Before);
    let packet = case.packet_of(&[FORM], &[Output::Page(Page::Desk, FORM)], issued).unwrap();
    assert_eq!(names(&packet), ["EX-01-r1-before-desk"]);
    assert_eq!(packet.files[0], case.packet_as(&[FORM], issued).unwrap().files[2]);
    assert_eq!(packet.not_made, Vec::<String>::new());
    let (unissued, consent) = (case.unissued().unwrap(), case.documents(issued).unwrap().remove(0));
    assert_ne!(unissued.footer.document, consent.footer.document);
    assert_eq!(serde_json::to_value(&unissued.blocks).unwrap(), serde_json::to_value(&consent.blocks).unwrap());
}

/// A preview is the layout that prints: as many pages, each a picture.
#[cfg(feature = "typeset")]
#[test]
fn a_preview_has_the_pages_that_print() {
    let practice = practice(same, BTreeMap::new());
    let record = record("ring-implant", same);
    let checked = checked(&practice, &record);
    let desk = Case::new(&checked, Moment::Before).unwrap().documents(demo::issued(&record, Moment::Before)).unwrap();
    let desk = desk.last().unwrap();
    let pages = practice.typesetter().preview(desk).unwrap();
    let places = practice.typesetter().places(desk).unwrap();
    assert!(pages.iter().all(|page| page.svg.starts_with("<svg")));
    for (number, page) in (1..).zip(&pages) {
        for spot in &page.spots {
            assert!(places[&spot.id] <= number, "{}", spot.id);
            assert!((0.0..page.size.0).contains(&spot.at.0) && (0.0..page.size.1).contains(&spot.at.1), "{}", spot.id);
        }
    }
    let marked: std::collections::BTreeSet<&String> =
        pages.iter().flat_map(|page| &page.spots).map(|spot| &spot.id).collect();
    assert_eq!(marked, places.keys().collect());
}

/// Text that cannot be read where it stands stops the page, with its place and without the text: words beyond the edge of the
/// paper, words cut off, words over others, a line through words. Lines and areas behind words do no harm.
#[cfg(feature = "typeset")]
#[test]
fn text_that_cannot_be_read_where_it_stands_stops_the_page() {
    const PARAGRAPH: &str = "#let paragraph(theme, it) = column(theme, prose(it.text))";
    let built_in = Assets::default().get("templates/pages/text.typ").unwrap().into_owned();
    for (body, refused) in [
        ("column(theme, prose(it.text))", None),
        ("move(dx: 300pt, prose(it.text))", Some("leaves its place")),
        ("block(height: 6pt, clip: true, prose(it.text))", Some("leaves its place")),
        ("block(prose(it.text) + place(top, text(\"Over\")))", Some("stands on other text")),
        ("block(prose(it.text) + place(top, dy: 5pt, line(length: 90pt)))", Some("stands on a line")),
        (
            "block(place(dy: 5pt, line(length: 90pt)) + place(rect(fill: white, width: 100%, height: 30pt)) + prose(it.text))",
            None,
        ),
        ("rect(inset: 5pt, prose(it.text))", None),
    ] {
        let changed = built_in.replace(PARAGRAPH, &format!("#let paragraph(theme, it) = {body}"));
        assert!(changed.contains(body));
        let practice = with_layout("text.typ", changed, Limits::default());
        let record = record("ring-implant", same);
        let checked = checked(&practice, &record);
        let printed = Case::new(&checked, Moment::Before).unwrap().packet(demo::issued(&record, Moment::Before));
        let printed = printed.map_err(|error| error.to_string());
        match (printed, refused) {
            (Ok(_), None) => {}
            (Err(error), Some(why)) => assert!(error.contains(why) && error.contains("on page "), "{body}: {error}"),
            (printed, _) => panic!("{body}: {:?}", printed.map(|_| ())),
        }
    }
}

/// A misspelt file of the practice's own would silently change nothing.
#[test]
fn an_own_file_that_nothing_reads_is_refused() {
    let profile = samples()["practice/profile.toml"].clone();
    for (path, refused) in [
        ("templates/finding.toml", true),
        ("locales/en-US/statements/risk-lense.md", true),
        ("locales/de-DE/words.toml", true),
        ("templates/pages/own.typ", false),
        ("templates/findings.toml", false),
    ] {
        let own = BTreeMap::from([(path.to_owned(), "# nothing\n".to_owned())]);
        let assembled = assembled(&profile, Assets::new(own));
        assert_eq!(assembled.is_err(), refused, "{path}: {:?}", assembled.err());
    }
}

/// Texts of the blocks of a page, as data.
fn words(practice: &Practice, record: &Record, page: Page) -> String {
    let checked = checked(practice, record);
    let case = Case::new(&checked, Moment::After).unwrap();
    let documents = case.documents(demo::issued(record, Moment::After)).unwrap();
    let document = documents.into_iter().find(|document| document.page == page).unwrap();
    serde_json::to_string(&document.blocks).unwrap()
}

/// The limits are the practice's own (common practice, no source). A pressure says what to do next, and never which drug.
#[test]
fn a_pressure_after_the_laser_is_judged_and_names_no_drug() {
    let practice = practice(same, BTreeMap::new());
    for (before, after, recheck, level) in [
        ("15", "16", "", "not raised"),
        ("15", "16", "20", "raised"),
        ("15", "29", "16", "not raised"),
        ("15", "16", "25", "nobody leaves unseen"),
        ("28", "29", "30", "nobody leaves unseen"),
        ("\"unknown\"", "16", "", "rise not known"),
    ] {
        let record = record("ring-implant", |text| {
            let recheck = match recheck {
                "" => String::new(),
                mmhg => format!("rechecks = [{{ at = 2026-08-07T11:25:00, pressure_mmhg = {mmhg} }}]\n"),
            };
            let text = text.replace("pressure_before_mmhg = 15", &format!("pressure_before_mmhg = {before}"));
            text.replace("pressure_after_mmhg = 16\n", &format!("pressure_after_mmhg = {after}\n{recheck}"))
        });
        let surgeon = words(&practice, &record, Page::Surgeon);
        let caption = surgeon.find("Pressure of the day").expect("the table of pressures");
        let next = surgeon[..caption].rfind("paragraph").expect("the next step");
        let table = &surgeon[next..caption + surgeon[caption..].find("\"kind\"").expect("the next block")];
        assert!(table.contains(level), "{before} {after} {recheck}: {table}");
        assert!(practice.formulary.drugs().all(|drug| !table.contains(&drug.name)), "{table}");
        let unseen = level == "nobody leaves unseen";
        assert_eq!(table.contains("**Nobody leaves unseen.**") || table.contains("Nobody leaves unseen."), unseen);
        let checked = checked(&practice, &record);
        let packet = Case::new(&checked, Moment::After).unwrap();
        assert_eq!(packet.findings.0.iter().any(|finding| finding.id == "pressure-stay" && finding.open()), unseen);
        assert_eq!(words(&practice, &record, Page::Desk).contains("must not leave"), unseen || after == "29");
        // Once it is done, the recheck is no appointment any more; a raised pressure makes the early visit definite.
        assert!(recheck.is_empty() || packet.plan.recheck.is_none());
        assert_eq!(
            packet.plan.visits[0].if_raised,
            level == "not raised" && after != "29" || before.contains("unknown")
        );
    }
}
