"""The message line: whatever a callback raises is shown, and a defect's traceback is kept."""

from __future__ import annotations

import ipywidgets as widgets
import pytest

from blendkit.foundation.errors import BadNumber, BlendkitError, Problem
from blendkit.foundation.keep import CannotKeep
from blendkit.panels import first_bottle
from blendkit.panels.kit import parts
from blendkit.panels.kit.parts import Message

pytestmark = pytest.mark.usefixtures("own_folder")


def shown_after(action) -> str:
    message = Message()
    message.guard(action)()
    return message.view.value


@pytest.mark.defect
def test_a_callback_that_raises_leaves_its_traceback_in_the_maker_folder(
    own_folder, monkeypatch
):
    log = own_folder / "log" / "defects.log"
    panel = first_bottle()
    assert not log.exists()
    monkeypatch.setattr("blendkit.panels.bottle.panel.bottle_picture", lambda *_: 1 / 0)
    panel.editor.strength.value = "21 %"  # by the control's own callback
    shown = panel.message.view.value
    assert "Something broke in the workbook (ZeroDivisionError: division by zero)" in shown
    assert "Your input is untouched." in shown
    assert panel.editor.strength.value == "21 %"
    assert str(log) in shown
    text = log.read_text(encoding="utf-8")
    assert "Traceback (most recent call last):" in text
    assert "test_message.py" in text  # down to the line that broke
    assert "Traceback" not in shown


def test_an_answer_is_seen_at_the_pressed_button_and_heard_by_the_line():
    message = Message()
    press = parts.button("Press", message.guard(lambda: message.say("Done.")))
    *_, place = parts.row(press).children
    press.click()
    assert "Done." in place.value
    assert "aria-hidden" in place.value
    assert "Done." in message.view.value
    assert "bk-elsewhere" in message.view._dom_classes
    message.say("")
    assert place.value == ""
    assert "bk-elsewhere" not in message.view._dom_classes


def test_a_refusal_says_greyed_only_where_it_greys():
    error, box = BadNumber([Problem("bottle", '"10 s"', "a volume")]), widgets.Box()
    message = Message()
    message.refuse(error)
    assert "greyed" not in message.view.value
    message.refuse(error, box)
    assert "greyed" in message.view.value
    assert "bk-stale" in box._dom_classes


def test_a_box_knows_its_unit_and_keeps_what_was_typed():
    box = parts.unit_box("Reading", "g")
    for typed, read in (("0,9", "0,9 g"), ("0.9 mL", "0.9 mL"), ("", ""), ("some", "some")):
        box.value = typed
        assert (box.quantity, box.value) == (read, typed)


def test_a_refusal_is_no_defect(own_folder):
    def refused():
        raise CannotKeep("the folder: got nothing; needs <b>room</b>.")

    shown = shown_after(refused)
    assert "needs &lt;b&gt;room" in shown
    assert not (own_folder / "log").exists()
    assert issubclass(CannotKeep, BlendkitError)


@pytest.mark.defect
def test_markup_in_a_defect_is_shown_as_text():
    def broken():
        raise ValueError("<img src=x onerror=alert(1)>")

    shown = shown_after(broken)
    assert "<img" not in shown
    assert "&lt;img" in shown


@pytest.mark.defect
def test_a_defect_that_cannot_print_itself_is_shown_all_the_same():
    class Unprintable(Exception):
        def __str__(self):
            raise RuntimeError("no text for this one")

    def broken():
        raise Unprintable

    assert "Unprintable" in shown_after(broken)


def test_a_folder_that_cannot_be_written_is_said_beside_the_defect(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    monkeypatch.setenv("BLENDKIT_HOME", str(tmp_path / "file"))
    shown = shown_after(lambda: 1 / 0)
    assert "ZeroDivisionError" in shown
    assert "could not be written" in shown
