"""Every screen of the desk, light and dark, at 200 % and 320 px: axe-core, no scrolling sideways, a visible focus."""

import importlib.resources
import json

import pytest

import desk

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
VIEWS = {
    "wide": {"viewport": {"width": 1280, "height": 900}},
    "dark": {"viewport": {"width": 1280, "height": 900}, "color_scheme": "dark"},
    "200-percent": {"viewport": {"width": 640, "height": 450}, "device_scale_factor": 2},
    "320-px": {"viewport": {"width": 320, "height": 640}, "color_scheme": "dark"},
}
"""At 200 % a window of 1280 px holds 640 of those a style sheet counts."""
SCREENS = ["/day", "/day?who=desk", "/day/print", "/visits", "/results", "/practice", "/verify", "/take-in", "/practice/file?path=templates/findings.toml", "/no-such-page", "/case/1/outcome", *(f"/case/1/{step}" for step in ("desk", "nurse", "surgeon", "pages", "treatment", "print"))]
AXE = (importlib.resources.files("axe_core_python") / "axe.min.js").read_text("utf-8")
RUN = """rules => axe.run(document, {runOnly: rules}).then(found => ({
  violations: found.violations.map(rule => rule.id + ": " + rule.nodes.map(node => node.html.slice(0, 120)).join(" | ")),
  passes: found.passes.length,
}))"""
UNSEEN = """() => {
  const here = document.activeElement;
  const drawn = [here, here.closest(".input"), here.nextElementSibling].filter(Boolean).map(part => getComputedStyle(part));
  return here !== document.body && drawn.every(style => style.outlineStyle === "none" || parseFloat(style.outlineWidth) < 2);
}"""
"""The line around a field with a unit is drawn around both, that of a choice around its word."""


def examine(page) -> dict:
    """What axe-core finds. Its script comes from the driver, past the policy of the page."""
    page.evaluate(AXE)
    return page.evaluate(RUN, RULES)


def sideways(page) -> int:
    """By how many pixels a page is wider than its window."""
    return page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")


@pytest.mark.xdist_group("desk")
@pytest.mark.parametrize("view", VIEWS)
def test_every_screen_can_be_read(view, tmp_path):
    """WCAG 2.2 A and AA with the rest that axe-core can tell; 1.4.10: nothing scrolls sideways at 320 px."""
    problems = {}
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_page(**VIEWS[view])
        page.goto(served.address)
        page.wait_for_url("**/sign-in")
        problems["/sign-in"] = _problems(page)
        desk.sign_in(page)
        for screen in SCREENS:
            page.goto(served.home + screen)
            problems[screen] = _problems(page)
        page.goto(served.home + "/take-in")
        page.set_input_files("#file", _of_another_system(tmp_path))
        page.click("main form button")
        page.wait_for_selector("#taken")
        problems["what came"] = _problems(page)
        page.goto(served.home + "/verify")
        page.set_input_files("#file", _of_another_system(tmp_path))
        page.click("main form button")
        page.wait_for_load_state()
        problems["what was verified"] = _problems(page)
        page.goto(served.home + "/day")
        page.get_by_label("Name, record number or code").fill("Ejemplo")
        page.keyboard.press("Enter")
        page.wait_for_url("**/day/found")
        problems["what was found"] = _problems(page)
    assert {screen: found for screen, found in problems.items() if found} == {}


def _of_another_system(folder):
    """A file of which something is taken, something asked and something not taken."""
    of = {"subject": {"reference": "Patient/p"}}
    resources = [
        {"resourceType": "Patient", "id": "p", "name": [{"text": "Rosa Beispiel"}], "birthDate": "1955-03"},
        {"resourceType": "Condition", "id": "c", "code": {"text": "Asthma"}, **of},
    ]
    path = folder / "bundle.json"
    path.write_text(json.dumps({"resourceType": "Bundle", "entry": [{"resource": one} for one in resources]}), encoding="utf-8")
    return path


def _problems(page) -> list[str]:
    found = examine(page)
    assert found["passes"] > 10
    wider = sideways(page)
    return found["violations"] + ([f"{wider} px too wide"] if wider > 0 else [])


@pytest.mark.xdist_group("desk")
def test_names_are_completed_by_keyboard_and_by_pointer(tmp_path):
    """WAI-ARIA combobox: arrows go through what is offered, Enter takes it, Escape leaves what was typed."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_page(**VIEWS["wide"])
        desk.enter(page, served)
        page.get_by_role("button", name="New case").click()
        page.goto(page.url.replace("/desk#form", "/nurse"))
        medicine = lambda at: page.locator(f"#f-health-medicines-{at}")
        medicine(0).focus()
        page.keyboard.type("aml")
        page.keyboard.press("ArrowDown")
        assert page.get_by_role("combobox", name="Medicines Row 1", expanded=True).get_attribute("aria-activedescendant") == "offer-0"
        assert examine(page)["violations"] == []
        page.keyboard.press("Enter")
        assert medicine(0).input_value() == "amlodipine"
        medicine(1).wait_for()
        medicine(1).focus()
        page.keyboard.type("timol")
        page.get_by_role("option", name="timolol", exact=True).click()
        assert medicine(1).input_value() == "timolol"
        medicine(2).wait_for()
        medicine(2).focus()
        page.keyboard.type("met")
        page.keyboard.press("ArrowDown")
        page.keyboard.press("Escape")
        assert medicine(2).input_value() == "met"
        assert page.get_by_role("listbox").count() == 0


@pytest.mark.xdist_group("desk")
@pytest.mark.parametrize("script", [True, False], ids=["with-script", "without-script"])
def test_a_slip_in_a_name_is_asked_about(script, tmp_path):
    """One press takes the name that was meant; what nobody knows stands at its field and waits for the surgeon."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_context(java_script_enabled=script).new_page()
        desk.enter(page, served, "Kim Placeholder")
        page.get_by_role("button", name="New case").click()
        page.goto(page.url.replace("/desk#form", "/nurse"))
        page.locator("#f-health-medicines-0").fill("Asprin 81 mg")
        page.keyboard.press("Enter")
        page.get_by_role("group", name="Which do you mean?").get_by_role("button", name="aspirin 81 mg").click()
        page.wait_for_url("**#f-health-medicines-0")
        assert page.locator("#f-health-medicines-0").input_value() == "aspirin 81 mg"
        page.locator("#f-health-medicines-1").fill("xyzzy")
        page.keyboard.press("Enter")
        page.locator("#f-health-medicines-says", has_text="does not know this name").wait_for()


@pytest.mark.xdist_group("desk")
def test_a_link_beside_the_page_moves_nothing_else(tmp_path):
    """A statement is chosen beside the page: the page stays where it is."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_page(**VIEWS["wide"])
        desk.enter(page, served)
        page.goto(served.home + "/case/1/pages")
        page.locator("#findings a[href*='statement=']").first.click()
        page.locator("#why").wait_for()
        page.wait_for_load_state("networkidle")
        assert page.evaluate("() => scrollY") == 0
        page.goto(served.home + "/case/1/nurse")
        below = "() => document.documentElement.scrollHeight - scrollY - document.querySelector('#form').getBoundingClientRect().bottom"
        assert page.evaluate(below) < 200, "nothing stands below the form"


PARTS = {"#form": 300, "#eye svg": 100, "#findings h2": 20, "#findings details": 24, "#preview img": 150}
"""What a surgeon looks at while typing, and how much of it is seen at least, pixels."""
SEEN = """names => names.map(name => {
  const box = document.querySelector(name).getBoundingClientRect();
  const room = document.querySelector(name).closest(".found, .paper, body").getBoundingClientRect();
  return Math.min(box.bottom, room.bottom, document.querySelector(".foot").getBoundingClientRect().top) - Math.max(box.top, room.top);
})"""


@pytest.mark.xdist_group("desk")
def test_form_findings_eye_and_page_are_seen_at_once(tmp_path):
    """At 1280 by 900 pixels, from the first section to the last."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_page(**VIEWS["wide"])
        desk.enter(page, served)
        page.goto(served.home + "/case/1/surgeon")
        for section in ("lens", "plan"):
            page.evaluate("id => document.getElementById(id).scrollIntoView()", f"section-{section}")
            page.locator("#preview img").wait_for()
            seen = dict(zip(PARTS, page.evaluate(SEEN, list(PARTS))))
            assert {name: seen[name] for name, least in PARTS.items() if seen[name] < least} == {}


MOST_FINDINGS, IN_VIEW = "Edith Probe", 9
"""Somebody of the example with twelve findings, and how many of them are seen at least."""


@pytest.mark.xdist_group("desk")
@pytest.mark.parametrize("script", [True, False], ids=["with-script", "without-script"])
def test_many_findings_stand_in_lines(script, tmp_path):
    """At 1280 by 900 pixels; how many there are of each level stays in view, and what is unfolded stays so while one types."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_context(java_script_enabled=script, **VIEWS["wide"]).new_page()
        desk.enter(page, served)
        case = page.get_by_role("link", name=MOST_FINDINGS).get_attribute("href").rsplit("/", 1)[0]
        page.goto(f"{served.home}{case}/surgeon")
        findings, head, room = page.locator("details.finding"), page.locator("#findings > h2"), page.locator(".found")
        assert findings.count() > IN_VIEW
        seen = [line for line in findings.all() if _within(line, room)]
        assert len(seen) >= IN_VIEW
        last = findings.last
        last.locator("summary").click()
        assert last.get_attribute("open") is not None and _within(head, room)
        if script:
            with page.expect_response(lambda answer: answer.url.endswith("/preview")):
                page.locator("#form input[type=text]").first.fill("3.1")
            assert last.get_attribute("open") is not None


def _within(part, room) -> bool:
    """Whether a part is seen from its first line to its last in what scrolls."""
    (here, there) = (part.bounding_box(), room.bounding_box())
    return here["y"] >= there["y"] - 6 and here["y"] + here["height"] <= there["y"] + there["height"] + 1


@pytest.mark.xdist_group("desk")
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_focus_can_be_seen(scheme, tmp_path):
    """WCAG 2.2, 2.4.7: whatever the keyboard stands at has a line of 2 px around it."""
    unseen = []
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_page(color_scheme=scheme)
        desk.enter(page, served)
        for screen in SCREENS:
            page.goto(served.home + screen)
            for _ in range(25):
                page.keyboard.press("Tab")
                if page.evaluate(UNSEEN):
                    unseen.append((screen, page.evaluate("() => document.activeElement.outerHTML.slice(0, 120)")))
    assert unseen == []


@pytest.mark.xdist_group("desk")
def test_faults_of_a_screen_are_noticed(tmp_path):
    """The check of the check: no language, a field without a name, a page too wide."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_page(viewport={"width": 320, "height": 640})
        desk.enter(page, served)
        page.evaluate("() => { document.documentElement.removeAttribute('lang'); document.querySelector('label[for=find]').remove(); "
                      "document.getElementById('main').style.width = '500px'; }")
        found = " ".join(_problems(page))
    assert "html-has-lang" in found and "label" in found and "px too wide" in found, found
