"""Draws the pictures of the desk that the README shows, from the program's own example, into `output-samples/desk/`:

    VITREOLEAF=target/debug/vitreoleaf target/tmp/venv/bin/python tests/outside/pictures.py
"""

import sys
import tempfile
from pathlib import Path

sys.dont_write_bytecode = True
import desk  # noqa: E402
from PIL import Image  # noqa: E402

FOLDER = desk.ROOT / "output-samples/desk"
WINDOW = {"width": 1280, "height": 720}
COLORS = ["ffffff", "e8f0f4", "16202a", "44515a", "083f58", "a81e16", "75828b", "c3ccd2", "b4cdd9", "d98f80", "f6e2dc"]
"""Those of the screens and of the drawing; with steps between ink and paper they keep the pictures light to carry."""
INKS, STEPS = COLORS[2:6], (0.3, 0.6)
MULTIFOCAL, ASTHMA = "Edith Probe", "Nadia Ejemplo"


def case(page, served: desk.Desk, name: str) -> str:
    """The address of a patient's case."""
    page.goto(f"{served.home}/day")
    page.get_by_label("Name, record number or code").fill(name.split()[-1])
    page.keyboard.press("Enter")
    page.wait_for_url("**/day/found")
    return served.home + page.get_by_role("link", name=name).get_attribute("href").rsplit("/", 1)[0]


def palette() -> Image.Image:
    """The colours, and each ink paler by steps."""
    rgb = [bytes.fromhex(color) for color in COLORS]
    paler = [bytes(round(255 - (255 - part) * step) for part in bytes.fromhex(ink)) for ink in INKS for step in STEPS]
    made = Image.new("P", (1, 1))
    made.putpalette(b"".join(rgb + paler))
    return made


def keep(page, name: str):
    """Takes what stands in the window."""
    page.wait_for_load_state("networkidle")
    place = FOLDER / f"{name}.png"
    page.screenshot(path=place)
    picture = Image.open(place).convert("RGB").quantize(palette=palette(), dither=Image.Dither.NONE)
    picture.save(place, optimize=True)


def main():
    FOLDER.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder, desk.running(Path(folder)) as served, desk.browser() as browser:
        page = browser.new_page(viewport=WINDOW)
        desk.enter(page, served)
        multifocal, asthma = case(page, served, MULTIFOCAL), case(page, served, ASTHMA)
        page.goto(f"{multifocal}/surgeon")
        keep(page, "surgeon")
        page.goto(f"{asthma}/pages")
        statement = page.locator("#findings a[href*='statement=risk-']").first.get_attribute("href")
        page.goto(f"{asthma}/pages{statement.split('#')[0]}")
        keep(page, "pages")
        page.goto(f"{multifocal}/treatment")
        keep(page, "treatment")


if __name__ == "__main__":
    main()
