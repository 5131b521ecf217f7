//! What is issued, for the printer and file by file, and what has no address because it is withheld.

use std::time::Duration;

use lopdf::Document;
use vitreoleaf::register::Register;

use super::browser::{Browser, FIRST_ISSUE, Served};
use super::typed::{planned, treated};

/// Groups that the nurse asks as a whole.
const GROUPS: [&str; 7] = ["signs", "lungs_heart", "circulation", "organs", "nerves_hormones", "reactions", "history"];

/// Asks whatever was not asked.
fn asked(browser: &Browser, id: u32) -> u32 {
    for group in GROUPS {
        let step = if group == "history" { "surgeon" } else { "nurse" };
        browser.post(&format!("/case/{id}/{step}"), &[("do", &format!("none {group}"))]);
    }
    id
}

fn pages(pdf: &[u8]) -> usize {
    Document::load_mem(pdf).unwrap_or_else(|why| panic!("{why}")).page_iter().count()
}

/// The addresses of the files on a page, in their order.
fn files(page: &str) -> Vec<String> {
    let addresses = page.split("href=\"/issue/").skip(1).map(|rest| rest.split('"').next().unwrap());
    addresses.filter(|address| !address.ends_with("/job")).map(|address| format!("/issue/{address}")).collect()
}

#[test]
fn a_print_job_holds_the_page_sets_in_the_order_and_number_of_the_desk_sheet() {
    let served = Served::start();
    let surgeon = served.signed_in("Ada");
    let id = planned(&surgeon, "ring-implant");
    let before = surgeon.get(&format!("/case/{id}/print")).text();
    let copies: Vec<&str> = before.split("<td role=\"cell\" class=\"count\">").skip(1).map(|cell| &cell[..1]).collect();
    assert_eq!(copies, ["2", "1", "1"], "{before}");
    let page = surgeon.post(&format!("/case/{id}/print"), &[]).text();
    let single: Vec<usize> = files(&page).iter().map(|address| pages(&surgeon.get(address).body)).collect();
    let job = surgeon.get(&format!("{FIRST_ISSUE}/job"));
    assert_eq!(job.header("content-type"), Some("application/pdf"));
    assert_eq!(job.header("content-disposition"), Some("inline; filename=\"EX-01-r1-before-print.pdf\""));
    assert_eq!(pages(&job.body), 2 * single[0] + single[1] + single[2]);
    assert_eq!(surgeon.get("/issue/2/job").status, 404);
}

#[test]
fn a_consent_that_comes_too_late_says_what_to_mend_here() {
    let served = Served::start_at("2026-08-22T15:00:00");
    let browser = served.signed_in("Ada");
    let id = planned(&browser, "ring-implant");
    let page = browser.post(&format!("/case/{id}/print"), &[]).text();
    assert!(page.contains("The laser was to begin before now. Correct its start"), "{page}");
    assert!(!page.contains("--issued-anyway"), "no words of the command line: {page}");
}

#[test]
fn what_is_withheld_now_has_no_address_and_is_to_be_taken_back() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let id = planned(&browser, "ring-implant");
    browser.post(&format!("/case/{id}/print"), &[]);
    assert_eq!(browser.get(&format!("{FIRST_ISSUE}/0")).status, 200);
    browser.post(&format!("/case/{id}/nurse"), &[("/examination/since/flashes", "yes")]);
    let page = browser.get(&format!("/case/{id}/print")).text();
    assert!(page.contains("To be taken back"), "{page}");
    let kept = Register::in_file(&served.register).unwrap().issues(id.into()).unwrap();
    let status = |place: usize| browser.get(&format!("{FIRST_ISSUE}/{place}")).status;
    for (place, file) in kept[0].files.iter().enumerate() {
        let of_staff = file.name.ends_with("surgeon.pdf") || file.name.ends_with("desk.pdf");
        assert_eq!(status(place), if of_staff { 200 } else { 403 }, "{}", file.name);
    }
    assert_eq!(browser.get(&format!("{FIRST_ISSUE}/job")).status, 403);
    browser.post(&format!("/case/{id}/nurse"), &[("/examination/since/flashes", "no")]);
    assert_eq!((status(0), browser.get(&format!("{FIRST_ISSUE}/job")).status), (200, 200), "as it was");
}

#[test]
fn the_other_eye_that_is_issued_along_becomes_another_version_too() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let right = treated(&browser, "both-eyes-right");
    assert!(browser.post(&format!("/case/{right}/print"), &[]).text().contains("EX-10-r1-after-aftercare.pdf"));
    let left = treated(&browser, "both-eyes-left");
    let before = browser.get(&format!("/case/{left}/print")).text();
    assert!(before.contains("EX-10 changed since version 1 was issued."), "{before}");
    let page = browser.post(&format!("/case/{left}/print"), &[]).text();
    assert!(page.contains("EX-11-r1-after-aftercare.pdf") && page.contains("EX-10_EX-11-both-eyes.pdf"), "{page}");
    let other = browser.get(&format!("/case/{right}/print")).text();
    assert!(other.contains("EX-10-r2-after-aftercare.pdf") && other.contains("EX-10_EX-11-both-eyes.pdf"), "{other}");
    assert_eq!(browser.kept(right).record["case"]["revision"], 2);
    let again = browser.get(&format!("/case/{left}/print")).text();
    assert!(!again.contains("changed since version"), "nothing changed since both were issued: {again}");
}

#[test]
fn a_day_is_issued_case_by_case_and_what_is_withheld_is_listed() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let ready = asked(&browser, planned(&browser, "ring-implant"));
    let withheld = planned(&browser, "young-detachment");
    let day = "/day/print?date=2026-08-21";
    let before = browser.get(day).text();
    assert!(before.contains("Issue the pages of 1 case") && !before.contains("<progress"), "{before}");
    let name = |id: u32| browser.kept(id).text("/patient/name").unwrap().to_owned();
    let list = |page: &str| page.split("id=\"withheld-title\"").nth(1).unwrap().to_owned();
    assert!(list(&before).contains(&name(withheld)) && list(&before).contains("Who acts:"), "{before}");
    assert!(browser.get("/day/print/job").status == 404);
    browser.post("/day/print", &[("date", "2026-08-21")]);
    let mut page = browser.get(day).text();
    for _ in 0..600 {
        if !page.contains("data-running") {
            break;
        }
        assert!(page.contains("http-equiv=\"refresh\"") && page.contains("<progress"), "without script it refreshes");
        std::thread::sleep(Duration::from_millis(100));
        page = browser.get(day).text();
    }
    assert!(page.contains("1 of 1 cases done") && page.contains("✓ issued"), "{page}");
    let store = Register::in_file(&served.register).unwrap();
    assert_eq!(store.issues(ready.into()).unwrap().len(), 1);
    assert_eq!(store.issues(withheld.into()).unwrap(), []);
    assert_eq!(pages(&browser.get("/day/print/job").body), pages(&browser.get(&format!("{FIRST_ISSUE}/job")).body));
    browser.post("/day/print", &[("date", "2026-08-21")]);
    assert_eq!(store.issues(ready.into()).unwrap().len(), 1, "what was issued is not issued again");
}

#[test]
fn a_case_half_filled_in_has_its_suitability_sheet_until_it_is_treated() {
    let served = Served::start();
    let browser = served.signed_in("Kim");
    let id = browser.begin();
    browser.post(&format!("/case/{id}/nurse"), &[("/eye/lens", "natural")]);
    let address = format!("/case/{id}/suitability");
    for page in ["nurse", "print"] {
        let page = browser.get(&format!("/case/{id}/{page}")).text();
        assert!(page.contains(&format!("href=\"{address}\"")) && page.contains("Suitability sheet"), "{page}");
    }
    let sheet = browser.get(&address);
    assert_eq!((sheet.status, sheet.header("content-type")), (200, Some("application/pdf")));
    assert_eq!(pages(&sheet.body), 1);
    assert!(
        Register::in_file(&served.register).unwrap().issues(id.into()).unwrap().is_empty(),
        "nothing is issued by it"
    );
    browser.post("/lock", &[]);
    browser.sign_in("Ada");
    let done = treated(&browser, "ring-implant");
    assert!(!browser.get(&format!("/case/{done}/print")).text().contains("Suitability sheet"));
}

#[test]
fn papers_that_are_ticked_are_issued_along_and_no_other() {
    let served = Served::start_at("2026-09-03T17:00:00");
    let browser = served.signed_in("Ada");
    let id = treated(&browser, "steroid-taper");
    let address = format!("/case/{id}/print");
    let offered = browser.get(&address).text();
    let papers: Vec<&str> =
        offered.split("name=\"paper-").skip(1).map(|rest| rest.split('"').next().unwrap()).collect();
    assert_eq!(papers, ["note", "letter", "outcome", "next-session"], "{offered}");
    let page = browser.post(&address, &[("paper-note", "on"), ("paper-letter", "on")]).text();
    for (paper, issued) in [("note", true), ("letter", true), ("outcome", false), ("next-session", false)] {
        assert_eq!(page.contains(&format!("EX-09-r1-after-{paper}.pdf")), issued, "{paper}: {page}");
    }
}

#[test]
fn a_page_that_is_withheld_says_so_across_wherever_it_is_looked_at() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let stamped = |id: u32| {
        let page = browser.get(&format!("/case/{id}/pages")).text();
        let (_, rest) = page.split_once("<img src=\"").unwrap_or_else(|| panic!("{page}"));
        let first = rest.split('"').next().unwrap().replace("&#x2f;", "/");
        let altered = first.replace("-1.svg", "-altered.svg");
        let word = |address: &str| browser.get(address).text().contains(">Withheld</text></svg>");
        assert_eq!(word(&first), word(&altered));
        assert_eq!(word(&first), page.contains("<span class=\"level\">Withheld</span>"), "{page}");
        word(&first)
    };
    assert!(!stamped(planned(&browser, "ring-implant")));
    assert!(stamped(planned(&browser, "young-detachment")));
}
