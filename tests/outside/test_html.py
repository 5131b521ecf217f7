"""HTML files for screen readers and email, in headless Chromium with axe-core: WCAG 2.2 A, AA and AAA, and axe's own best
practices. PyPI `axe-core-python` is taken for the script it carries (axe-core 4.4.3); nothing else of it is used."""

import importlib.resources
import json
import re
import shutil
import subprocess

import languages
import lxml.html
import pytest
from run import BROWSERS

RULES = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "best-practice"]
RUN = """
axe.run(document, {runOnly: %s, rules: {"color-contrast-enhanced": {enabled: true}}}).then(result => {
  const found = document.createElement("script");
  found.type = "application/json";
  found.id = "axe-found";
  const told = rule => rule.id + ": " + rule.nodes.map(node => node.html.slice(0, 80)).join(" | ");
  found.textContent = JSON.stringify({violations: result.violations.map(told), passes: result.passes.length});
  document.body.append(found);
});
"""


def examine(html: str, folder) -> dict:
    """What axe-core finds on a page."""
    browser = next(filter(None, map(shutil.which, BROWSERS)))
    axe = (importlib.resources.files("axe_core_python") / "axe.min.js").read_text("utf-8")
    page = folder / "page.html"
    page.write_text(html.replace("</body>", f"<script>{axe}</script><script>{RUN % json.dumps(RULES)}</script></body>"), "utf-8")
    command = [browser, "--headless", "--no-sandbox", "--disable-gpu", "--virtual-time-budget=20000", "--dump-dom", page.as_uri()]
    dom = subprocess.run(command, check=True, capture_output=True, timeout=180).stdout.decode("utf-8")
    found = re.search(r'<script type="application/json" id="axe-found">(.*?)</script>', dom, re.DOTALL)
    assert found, "axe-core did not finish"
    return json.loads(found.group(1))


@pytest.mark.parametrize("name", [
    "EX-01-r1-before-consent", "EX-01-r1-before-consent-clinic", "EX-01-r1-after-aftercare", "EX-03-r1-before-consent-clinic",
    "EX-03-r1-after-aftercare-clinic", "EX-01-r1-before-surgeon", "EX-01-r1-before-desk", "EX-01-r1-before-withdrawal",
    "EX-01-r1-after-outcome", "EX-01-r1-after-letter", "EX-01-r1-after-note",
])
def test_axe_finds_nothing(name, tmp_path):
    """WCAG-1, WCAG-2, WCAG-6, WCAG-7 and what else axe-core can tell."""
    found = examine(languages.files("ar", f"{name}.html")[0].read_text("utf-8"), tmp_path)
    assert found["violations"] == []
    assert found["passes"] > 15


@pytest.mark.parametrize("name", ["EX-01-r1-before-consent", "EX-03-r1-after-aftercare"])
@pytest.mark.parametrize("language", ["en-GB", "es-US", "fr", "de"])
def test_axe_finds_nothing_in_any_language(language, name, tmp_path):
    """WCAG-1, WCAG-2, WCAG-6, WCAG-7: in standard and in large print."""
    found = examine(languages.files(language, f"{name}.html")[0].read_text("utf-8"), tmp_path)
    assert found["violations"] == []
    assert found["passes"] > 15


def test_axe_notices_faults(tmp_path):
    """The check of the check: no language, pale text, a list item without a list."""
    sound = languages.files("ar", "EX-01-r1-before-consent-clinic.html")[0].read_text("utf-8")
    broken = sound.replace('<html lang="en-US"', "<html").replace("color: #000", "color: #aaa").replace("<ul>", "<div>")
    found = " ".join(examine(broken, tmp_path)["violations"])
    for rule in ("html-has-lang", "color-contrast", "listitem"):
        assert rule in found, found


@pytest.mark.parametrize("path", languages.files("ar", "*.html"), ids=lambda path: path.stem)
def test_one_file_without_scripts(path):
    """Self-contained: nothing is loaded, nothing runs."""
    text = path.read_text("utf-8")
    tree = lxml.html.fromstring(text)
    for tag in ("script", "link", "img", "iframe", "object", "form", "input"):
        assert tree.findall(f".//{tag}") == [], tag
    assert not re.search(r"https?:|url\(|@import| on\w+=", text), path.name
    levels = [int(heading.tag[1]) for heading in tree.iter("h1", "h2", "h3")]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(levels, levels[1:])), levels
    for table in tree.iter("table"):
        assert all(head.get("scope") in ("col", "row") for head in table.iter("th"))
        assert table.findall(".//th")


def test_language_of_parts():
    """WCAG-6 (SC 3.1.1, 3.1.2): page and lines of the other language name theirs."""
    for path in languages.files("ar", "EX-0?-r1-*-aftercare.html"):
        tree = lxml.html.fromstring(path.read_text("utf-8"))
        assert (tree.get("lang"), tree.get("dir")) == ("ar", "rtl")
        assert {part.get("lang") for part in tree.iterfind(".//header/p[@lang]")} == {"ar", "en-US"}


@pytest.mark.parametrize("name", ["EX-01-r1-after-aftercare-clinic", "EX-03-r1-after-aftercare-clinic", "EX-01-r1-after-aftercare"])
def test_every_dose_stands_in_text_and_html(name):
    """The plain text and the HTML have a box for each dose of the plan."""
    data = json.loads(languages.files("ar", f"{name.split('-after')[0]}-after-packet.json")[0].read_text("utf-8"))
    assert data["doses"]
    text = languages.files("ar", f"{name}.txt")[0].read_text("utf-8")
    tree = lxml.html.fromstring(languages.files("ar", f"{name}.html")[0].read_text("utf-8"))
    given = sum(dose["given"] for dose in data["doses"])
    drug = re.compile(r"^\[([ x])\] .*\d.*: .*(?:%|mg)", re.MULTILINE)
    boxes = [match.group(1) for match in drug.finditer(text)]
    assert (len(boxes), boxes.count("x")) == (len(data["doses"]), given)
    doses = [item.text_content() for item in tree.iterfind(".//td/ul/li")]
    assert (len(doses), sum("☑" in dose for dose in doses)) == (len(data["doses"]), given)
