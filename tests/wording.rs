//! Wording: each rule finds its fault, medical words, voice, weekdays, and the self-audit against published instruments.

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate};
use vitreoleaf::assets::Assets;
use vitreoleaf::content::locale::Locale;
use vitreoleaf::document::Block;
use vitreoleaf::document::reading::Passage;
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::Case;
use vitreoleaf::proof;
use vitreoleaf::proof::audit::{self, State};
use vitreoleaf::proof::wording::{Weekdays, Wording};

use crate::packets::{checked, practice, record};
use crate::plain::{each_page, measure, with_case};

fn same(text: String) -> String {
    text
}

/// A page may hold some passive sentences, and no more.
#[test]
fn many_passive_sentences_are_too_many() {
    let wording = Wording::load(&Assets::default(), &crate::packets::lineage("en-US")).unwrap();
    let stops = measure("en-US").stops;
    let page = |passive, active: usize| {
        let voices = vec![wording.voice("It was done.", &stops); passive];
        [voices, vec![wording.voice("We did it.", &stops); active]].concat()
    };
    assert!(wording.passive(&page(1, 20)).is_none());
    assert!(wording.passive(&page(3, 20)).is_some());
}

/// A medical word without its explanation is told with its place.
#[test]
fn medical_words_are_explained() {
    let wording = Wording::load(&Assets::default(), &crate::packets::lineage("en-US")).unwrap();
    let passage = |text: &str| Passage { text: text.into(), running: vec![text.into()], ..Passage::default() };
    let far = [passage("You may need a vitrectomy."), passage("Rest."), passage("That is surgery to remove the gel.")];
    assert_eq!(wording.unexplained(&far).len(), 1);
    assert_eq!(wording.unexplained(&[far[0].clone(), far[2].clone()]), []);
    let heading = Passage { text: "Vitrectomy".into(), ..Passage::default() };
    assert_eq!(wording.unexplained(&[heading]), []);
}

/// DATE-4 over every day of four years, 29 February 2028 among them: the right weekday passes, each wrong one is found.
#[test]
fn a_wrong_weekday_is_found() {
    let locale = Locale::load(&Assets::default(), "en-US").unwrap();
    let mut weekdays = Weekdays::new(&locale);
    let first = NaiveDate::from_ymd_opt(2026, 1, 1).unwrap();
    for day in first.iter_days().take_while(|day| day.year() < 2030) {
        let right = locale.full_date(day);
        assert_eq!(weekdays.wrong(&right), [], "{right}");
        let next = day.succ_opt().unwrap();
        let wrong = right.replace(&locale.weekday(day), &locale.weekday(next));
        assert_eq!(weekdays.wrong(&format!("Come on {wrong}, at noon.")).len(), 1, "{wrong}");
    }
    // 7 August 2026 is a Friday (calendar arithmetic).
    assert_eq!(weekdays.wrong("Friday, August 7, 2026"), []);
    assert_eq!(weekdays.wrong("Thursday, August 7, 2026").len(), 1);
}

/// The same in the drop calendar, whose rows print no year.
#[test]
fn a_wrong_weekday_in_the_calendar_is_found() {
    with_case("ring-implant", Moment::After, |case| {
        let mut document = case.unissued().unwrap();
        let weekdays = &case.practice().library("en-US").unwrap().locale;
        let weekdays = Weekdays::new(weekdays);
        assert_eq!(weekdays.wrong_in_calendars(&document), []);
        for block in &mut document.blocks {
            if let Block::Calendar(calendar) = block {
                let day = &mut calendar.days[0];
                day.weekday = if day.weekday == "Monday" { "Tuesday".into() } else { "Monday".into() };
            }
        }
        assert!(!weekdays.wrong_in_calendars(&document).is_empty());
    });
}

/// No item of the self-audit fails on a page of the demo; each instrument is there in full.
#[test]
fn no_item_of_the_self_audit_fails() {
    let mut human = 0;
    each_page(|case| {
        let items = audit::audit(case).unwrap();
        // Where the drop plan is withheld there is no calendar to pass.
        if case.moment() == Moment::Before || case.withheld().is_none() {
            let failed: Vec<_> = items.iter().filter(|item| item.state == State::Failed).collect();
            assert!(failed.is_empty(), "{}: {failed:?}", case.record().case.code);
        }
        human += items.iter().filter(|item| item.state == State::Human).count();
    });
    assert!(human > 0, "a program does not judge everything");
    let both: String = [Moment::Before, Moment::After]
        .map(|moment| with_case("ring-implant", moment, |case| format!("{:?}", audit::audit(case).unwrap())))
        .concat();
    for number in (1..=12).chain(15..=26) {
        assert!(both.contains(&format!("\"PEM-{number}\"")), "PEM-{number}");
    }
    for number in 1..=20 {
        assert!(both.contains(&format!("\"CCI-{number}\"")), "CCI-{number}");
    }
}

/// An item fails when what it asks for is gone, and one that asks for what the program does not know is refused.
#[test]
fn a_failing_item_fails() {
    let own = |path: &str, text: &str| BTreeMap::from([(path.to_owned(), text.to_owned())]);
    let items = |own: BTreeMap<String, String>| {
        let (practice, record) = (practice(same, own), record("ring-implant", same));
        audit::audit(&Case::new(&checked(&practice, &record), Moment::Before).unwrap())
    };
    let long =
        "**The laser** sends short, strong flashes of light. ".to_owned() + &"It breaks up the floater. ".repeat(20);
    for (file, text, id) in [
        ("what-laser", long.as_str(), "PEM-8"),
        ("what-laser", "The ophthalmological photodisruption necessitates considerable deliberation.", "PEM-3"),
        ("what-laser", "Use 1 drop b.i.d. now.", "PEM-6"),
        ("point-retina", "It can harm the retina.", "PEM-4"),
        ("what-laser", "Patients should rest.", "PEM-21"),
        ("what-laser", "Harm is rare.", "CCI-20"),
    ] {
        let items = items(own(&format!("locales/en-US/statements/{file}.md"), text)).unwrap();
        let item = items.iter().find(|item| item.id == id).unwrap();
        assert_eq!(item.state, State::Failed, "{id}: {text}");
    }
    let unknown = "[[item]]\nid = \"X-1\"\nwhat = \"x\"\nmet_by = [\"magic\"]\n";
    assert!(items(own("templates/self-audit.toml", unknown)).unwrap_err().to_string().contains("there is no magic"));
}

/// Proofreading walks many records and reads their pages: what is wrong with a statement is told under its id, with the
/// rule, and so is one that no record reaches or that cannot be filled.
#[test]
fn proofreading_reads_the_pages() {
    let own = [
        ("what-laser", "Light is sent into the floater. It is broken up. Bits are left."),
        ("what-happens", "The ophthalmological photodisruption necessitates considerable deliberation."),
        (
            "point-retina",
            "**It can harm the retina**, even years later, and you could then also lose the sight of this eye, \
            or of a part of what it sees now, for good.",
        ),
        ("point-other-ways", "- A tear is rare. Use 1 drop b.i.d. now."),
    ];
    let new = [
        ("no-such-eye", "lens == 'none' and capsule == 'open'", "No such eye."),
        ("energy", "lens == 'none'", "You had {{ session_energy_mj }} mJ."),
    ];
    let rows = new.map(|(id, when, _)| {
        format!("[[statement]]\nid = \"{id}\"\npage = \"consent\"\nsection = \"risks\"\norder = 1\nkind = \"text\"\nwhen = \"{when}\"\n")
    });
    let texts = own.into_iter().chain(new.map(|(id, _, text)| (id, text)));
    let mut own: BTreeMap<String, String> =
        texts.map(|(id, text)| (format!("locales/en-US/statements/{id}.md"), text.to_owned())).collect();
    own.insert("templates/statements.toml".into(), rows.concat());
    let faults = proof::proofread(&practice(same, own), "en-US").unwrap();
    for (id, what) in [
        ("no-such-eye", "no case reaches it"),
        ("cases", "a text cannot be filled: practice/locales/en-US/statements/energy.md"),
        ("what-happens", "not plain enough: Flesch-Kincaid grade is"),
        ("what-happens", "plain.toml lacks the syllables of \"photodisruption\""),
        ("point-retina", "more than 25 words"),
        ("consent", "PEM-4: \"vitrectomy\" is not explained where it first stands, in more-surgery"),
        ("point-other-ways", "RISK-2"),
        ("point-other-ways", "ISMP-2"),
    ] {
        assert!(faults.iter().any(|fault| fault.id == id && fault.what.contains(what)), "{id}: {what}: {faults:#?}");
    }
}
