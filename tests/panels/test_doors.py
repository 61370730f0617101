"""Hard use of every door: whatever is typed, a panel answers in words and stays whole.

Every box of every panel is filled with what nobody would type, every button is pressed
afterwards, and blend documents are spoilt. What lies in files is in `test_doors_for_files.py`.
`BLENDKIT_FUZZ` sets how many examples are drawn (`tests/fuzzing.py`).
"""

from __future__ import annotations

import ipywidgets as widgets
import pytest
from hypothesis import given
from hypothesis import strategies as st

import blendkit as bk
from blendkit import panels
from tests.tools.fuzzing import blend_door, both_happen, drawing, spoilt

MARK = "mark-of-the-typed"
NASTY = (
    f"<script>{MARK}()</script>", f'"><img src=x onerror={MARK}()>', "=HYPERLINK(\"x\")",
    "'; DROP TABLE blends; --", "\u202eright to left", "🌿" * 40, "\x00", "\ud800", "1e999",
    "nan", "-3", "0", "1/0", " ", "٣", "10 g", "{{ 7*7 }}", "../../etc/passwd", "x" * 5000,
)  # fmt: skip
OPENING = [name for name in panels.__all__ if name not in {"lesson"}]
pytestmark = pytest.mark.usefixtures("own_folder")  # which fails where anything broke
REFUSED = 'class="bk-message bk-refusal"'
TYPED = (widgets.Text, widgets.Textarea)


def inside(widget: widgets.Widget):
    """Every widget below another one, hidden ones as well."""
    seen, waiting = set(), [widget]
    while waiting:
        one = waiting.pop()
        if one.model_id not in seen:
            seen.add(one.model_id)
            yield one
            waiting.extend(getattr(one, "children", ()))


def shown(panel) -> str:
    return "\n".join(w.value for w in inside(panel.view) if isinstance(w, widgets.HTML))


@pytest.mark.parametrize("name", OPENING)
def test_every_box_takes_anything(name):
    panel = getattr(panels, name)()
    boxes = [w for w in inside(panel.view) if isinstance(w, TYPED) and not w.disabled]
    assert boxes
    for box in boxes:
        before = box.value
        for text in NASTY:
            box.value = text
            assert box.value == text  # nothing typed is changed or clamped
            html = shown(panel)
            assert f"<script>{MARK}" not in html
            assert f"<img src=x onerror={MARK}" not in html
            assert "Something broke" not in html, (box.description, text)
        box.value = before
    assert REFUSED not in shown(panel)  # back to where it was, and well


@pytest.mark.parametrize("name", OPENING)
def test_every_button_answers_in_words(name):
    panel = getattr(panels, name)()
    pressed = set()
    for _ in range(3):  # a button may bring others
        for one in list(inside(panel.view)):
            if isinstance(one, widgets.Button) and one.model_id not in pressed:
                pressed.add(one.model_id)
                one.click()
                assert "Something broke" not in shown(panel), one.description
    assert pressed


DOCUMENT = bk.example_document()
WORDS = st.sampled_from([*NASTY, *DOCUMENT, "10 mL", "20 %", "rose", "jojoba", "mass", "top"])
VALUES = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | WORDS | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(WORDS | st.text(max_size=5), inner)
    ),
    max_leaves=12,
)


def test_a_spoilt_document_gives_every_result_or_a_refusal():
    """What passes the door must go all the way: drops, skin, fade and label."""
    with both_happen("blend documents") as seen:

        @drawing(150)
        @given(st.integers(0, 2**32), VALUES)
        def knock(seed, value):
            passed = blend_door(spoilt(DOCUMENT, seed, value), fade=seed % 10 == 0)
            seen["result" if passed else "refusal"] += 1

        knock()
