"""A stranger with a keyboard and nothing else: from no case to the consent, and to the aftercare. `keys/` holds what they
press."""

import contextlib
import sqlite3

import pytest

import desk
from keyboard import Keyboard, Lost

PRESSES = 150
PRESSES_AFTER = 40
TYPED = 3 * 40 * 5
"""Characters of three minutes at 40 words of five characters a minute."""
PLANNED, TODAY = "2026-08-20T14:30", "2026-08-12T09:30"


@pytest.mark.xdist_group("desk")
@pytest.mark.parametrize("script", [True, False], ids=["with-script", "without-script"])
def test_a_stranger_makes_consent_and_aftercare_with_the_keyboard_alone(script, tmp_path):
    """WCAG 2.2, 2.1.1: sign in, a plain eye from nothing, its consent on paper; after the laser its aftercare. The same where
    no script runs."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_context(java_script_enabled=script).new_page()
        page.goto(served.address)
        page.wait_for_url("**/sign-in")
        keyboard = Keyboard(page)
        keyboard.play("consent.keys")
        assert page.get_by_role("link", name="consent.pdf").count() >= 1, page.inner_text("body")
        assert keyboard.pressed <= PRESSES
        assert keyboard.pressed + keyboard.typed <= TYPED
        before = keyboard.pressed
        _let_the_day_come(tmp_path)
        keyboard.play("aftercare.keys")
        assert page.get_by_role("link", name="aftercare.pdf").count() >= 1, page.inner_text("body")
        assert keyboard.pressed - before <= PRESSES_AFTER


def _let_the_day_come(folder):
    """The example stands still on its day: the day of this case is moved there."""
    (register,) = folder.glob("vitreoleaf*/register.sqlite3")
    with contextlib.closing(sqlite3.connect(register)) as store, store:
        moved = store.execute("UPDATE kept_case SET file = replace(file, ?1, ?2), starts = ?2 || ':00' WHERE starts = ?1 || ':00'",
                              (PLANNED, TODAY))
        assert moved.rowcount == 1


@pytest.mark.xdist_group("desk")
def test_enter_in_a_field_saves_and_locks_nobody_out(tmp_path):
    """A browser presses the first button of a form: that must be the one that saves."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_context(java_script_enabled=False).new_page()
        desk.enter(page, served)
        page.get_by_role("button", name="New case").click()
        page.get_by_label("Record number").fill("000-900")
        page.keyboard.press("Enter")
        page.wait_for_url("**/desk#form")
        assert page.get_by_label("Record number").input_value() == "000-900"


@pytest.mark.xdist_group("desk")
def test_the_keys_of_the_desk_can_be_turned_off(tmp_path):
    """They stay off in this browser until somebody turns them on."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_page()
        desk.enter(page, served)
        seeks = lambda: page.evaluate("() => document.activeElement.id") == "find"
        for button, found in (("Turn keys off", False), ("Turn keys on", True)):
            page.goto(served.home + "/case/1/desk")
            page.get_by_role("button", name=button).click()
            page.goto(served.home + "/day")
            page.keyboard.press("F2")
            assert seeks() == found


@pytest.mark.xdist_group("desk")
def test_a_script_that_loses_its_way_is_noticed(tmp_path):
    """The check of the check."""
    with desk.running(tmp_path) as served, desk.browser() as browser:
        page = browser.new_page()
        page.goto(served.address)
        page.wait_for_url("**/sign-in")
        with pytest.raises(Lost):
            Keyboard(page)._to("What nobody offers")
