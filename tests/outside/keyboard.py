"""Plays a script of key presses (`keys/`) in a browser and counts them. The head of `keys/consent.keys` explains the lines."""

from dataclasses import dataclass
from pathlib import Path

KEYS = Path(__file__).parent / "keys"
MOST_TABS = 60

NAME = """() => {
  const here = document.activeElement;
  if (!here || here === document.body) return [];
  const own = here.getAttribute("aria-label") ?? here.labels?.[0]?.textContent ?? here.textContent;
  const group = here.closest("fieldset")?.querySelector("legend")?.textContent ?? "";
  return [own, group].map(text => text.replace(/\\s+/g, " ").trim());
}"""

STAYS = "() => !!document.activeElement.hash && document.activeElement.pathname === location.pathname"


class Lost(AssertionError):
    """The focus does not come where the script says."""


@dataclass
class Keyboard:
    """A page, and how many keys were pressed in it and how many characters typed."""

    page: object
    pressed: int = 0
    typed: int = 0

    def play(self, name: str):
        """Plays a script from its first line to its last."""
        for number, line in enumerate((KEYS / name).read_text("utf-8").splitlines(), 1):
            if line and not line.startswith("#"):
                word, _, rest = line.partition(" ")
                try:
                    getattr(self, f"_{word}")(rest)
                except Lost as lost:
                    raise Lost(f"{name}:{number}: {line}: {lost}") from None

    def _press(self, key: str):
        self.pressed += 1
        if key != "Enter" or self.page.evaluate(STAYS):
            return self.page.keyboard.press(key)
        # Somebody looks at what comes before they go on.
        with self.page.expect_event("load"):
            self.page.keyboard.press(key)

    def _type(self, text: str):
        self.typed += len(text)
        self.page.keyboard.type(text)

    def _to(self, name: str, key: str = "Tab"):
        seen = []
        for _ in range(MOST_TABS):
            self._press(key)
            seen.append(self._names())
            if any(_is(own, name) for own in seen[-1]):
                return
        raise Lost(f"not among {seen}")

    def _back(self, name: str):
        self._to(name, "Shift+Tab")

    def _choose(self, name: str):
        first = self._names()[0]
        self._press("Space" if _is(first, name) else "ArrowDown")
        while not _is(self._names()[0], name):
            self._press("ArrowDown")
            if self._names()[0] == first:
                raise Lost(f"no such choice; the first is {first}")

    def _names(self) -> list[str]:
        return self.page.evaluate(NAME)


def _is(own: str, name: str) -> bool:
    """What the desk counts or explains behind a name may change."""
    return own == name or own.startswith(f"{name} ")
