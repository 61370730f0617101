"""The hand-outs opened from files with the network off: arithmetic, sizes, contrast, paper."""

from __future__ import annotations

import io
import random

import numpy as np
import pytest
from pypdf import PdfReader

from blendkit.blend.apportionment import whole_drops
from blendkit.blend.blend import Blend
from blendkit.evaporation import uncertainty
from blendkit.evaporation.conditions import Conditions
from blendkit.evaporation.forecast import forecast
from blendkit.evaporation.wear import film_of
from blendkit.foundation.data import example_class
from blendkit.showing.teach.handouts import all_handouts
from blendkit.showing.teach.words import LANGUAGES
from blendkit.teaching.class_document import ClassPlan
from blendkit.teaching.free_choice import card_of
from blendkit.teaching.page_figures import (
    COMMON_DRAWS,
    DRAWS,
    SEED,
    STEPS_OF_A_NORMAL,
    page_figures,
    page_normals,
)

PHONE, DESK = {"width": 360, "height": 780}, {"width": 1280, "height": 900}
SETTINGS = 40
BOTTLES = ("10 mL", "30 mL")
CLASS = {**example_class(), "name": "<b>Kurs</b> </script><script>alert(1)</script>"}


@pytest.fixture(scope="module")
def plan():
    return ClassPlan.from_dict(CLASS)


@pytest.fixture(scope="module")
def files(plan, tmp_path_factory):
    """Every hand-out in every language, as files on a stick."""
    folder = tmp_path_factory.mktemp("stick")
    for language in LANGUAGES:
        for name, text in all_handouts(plan, language=language).items():
            (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def opened_file(browser, files):
    """Open a hand-out by its file, offline; whatever it asks for or complains of is listed."""
    contexts = []

    def open_file(name: str, size=DESK):
        context = browser.new_context(viewport=size, offline=True, has_touch=size == PHONE)
        contexts.append(context)
        page = context.new_page()
        page.trouble = []
        page.on("console", lambda message: page.trouble.append(message.text))
        page.on("pageerror", lambda error: page.trouble.append(str(error)))
        page.on("dialog", lambda dialog: page.trouble.append(dialog.message))
        page.on("request", lambda request: page.trouble.append(request.url))
        page.goto((files / name).as_uri())
        page.trouble = [each for each in page.trouble if not each.endswith(name)]
        return page

    yield open_file
    for context in contexts:
        context.close()


NAMES = [
    f"{name}-{language}.html"
    for name in ("ratio-and-fade", "card", "stations", "recipes", "exercises", "answers",
                 "take-home")
    for language in LANGUAGES
]  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_opens_from_a_file_with_the_network_off_and_asks_for_nothing(
    opened_file, name, picture
):
    for size, word in ((PHONE, "phone"), (DESK, "desk")):
        page = opened_file(name, size)
        assert page.trouble == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        assert "<b>Kurs</b>" in page.title()
        picture(page, f"handout_{name.removesuffix('.html')}_{word}")


# --- the page's arithmetic against the package --------------------------------------------

SET = """([parts, total, bottle, carrier]) => {
  parts.forEach((part, o) => { document.getElementById(`oil-${o}`).value = part; });
  document.getElementById('bottle').value = bottle;
  document.getElementById('carrier').value = carrier;
  document.getElementById('bottle').dispatchEvent(new Event('input'));
  document.getElementById('total').value = total;
  document.getElementById('total').dispatchEvent(new Event('input'));
  return new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done({
    drops: parts.map((_, o) => Number(document.getElementById(`drops-${o}`).textContent)),
    strength: {...document.getElementById('strengths').dataset},
    broken: document.getElementById('verdict').dataset.broken,
    notes: [...document.querySelectorAll('#halves li')].map((line) => ({...line.dataset})),
  }))));
}"""


def chosen(plan: ClassPlan, chance: random.Random):
    parts = [chance.choice((0, 0, 1, 2, 3, 5, 10)) for _ in plan.oils]
    if not any(parts):
        parts[chance.randrange(len(parts))] = 1
    return parts, chance.randint(len(parts), 40), chance.randrange(2), chance.randrange(2)


def mixed(plan: ClassPlan, drops: dict[str, int], bottle: int, carrier: int) -> Blend:
    note = {each.oil.id: each.note for each in plan.oils}
    return Blend.from_dict(
        {
            "bottle": BOTTLES[bottle],
            "strength": "100 %",
            "drops_per_ml": 20,
            "note_parts": dict.fromkeys({note[name] for name in drops}, 1),
            "oils": [
                {"id": name, "note": note[name], "drops": count}
                for name, count in drops.items()
            ],
            "carriers": [{"id": plan.carriers[carrier].id}],
        }
    )


def with_the_page_s_draws(monkeypatch, plan: ClassPlan, film) -> None:
    """Let the package draw what the page draws: its columns, for the molecules of one film."""
    figures = page_figures(plan)
    classes, molecules = figures["classes"], len(figures["molecules"])
    normal = page_normals(classes, molecules) / STEPS_OF_A_NORMAL
    place = {}
    for each in plan.oils:  # the order in which the page numbers them
        alone = film_of(mixed(plan, {each.oil.id: 20}, 0, 0).bottle, Conditions.read())
        for molecule in alone.molecules:
            place.setdefault(molecule, len(place))
    known = sorted({molecule.chemical_class for molecule in place})
    here = sorted({molecule.chemical_class for molecule in film.molecules})
    columns = [COMMON_DRAWS + known.index(each) for each in here]
    columns += [COMMON_DRAWS + classes + place[each] for each in film.molecules]
    rows = np.hstack([normal[:, :COMMON_DRAWS], np.zeros((DRAWS, 3)), normal[:, columns]])
    drawn = np.vstack([np.zeros((1, rows.shape[1])), rows])
    monkeypatch.setattr(uncertainty, "even_normals", lambda *_: drawn)


def numbers(text: str) -> np.ndarray:
    return np.array([float(each) for each in text.split()])


def test_the_page_agrees_with_the_package_to_one_percent(opened_file, plan, monkeypatch):
    page = opened_file("ratio-and-fade-en.html", PHONE)
    chance = random.Random(7)
    ids = [each.oil.id for each in plan.oils]
    cards = [
        card_of(ClassPlan.from_dict({**example_class(), "bottle": bottle}))
        for bottle in BOTTLES
    ]
    hours = page_figures(plan)["hours"]
    own = uncertainty.even_normals
    seen, widest = 0, 0.0
    for _ in range(SETTINGS):
        parts, total, bottle, carrier = chosen(plan, chance)
        shown = page.evaluate(SET, [parts, total, bottle, carrier])
        wanted = whole_drops({n: p for n, p in zip(ids, parts, strict=True) if p}, total)
        assert shown["drops"] == [wanted.get(name, 0) for name in ids]
        drops = {name: count for name, count in wanted.items() if count}
        filling = mixed(plan, drops, bottle, carrier).bottle
        for basis in ("drops", "volume", "mass"):
            found = float(shown["strength"][basis]) / 100
            assert found == pytest.approx(getattr(filling, f"strength_by_{basis}"), rel=1e-9)
        assert int(shown["broken"]) == len(cards[bottle].broken_by(drops))
        film = film_of(filling, Conditions.read())
        with_the_page_s_draws(monkeypatch, plan, film)
        same_draws = forecast(film, hours, DRAWS, seed=SEED)
        monkeypatch.setattr(uncertainty, "even_normals", own)
        package = forecast(film, hours)
        _, low, high, _ = same_draws.band()
        for note in shown["notes"]:
            row = same_draws.place(note["note"])
            # The package works vapour out to 1e-7 of its start; raised to 0.35, that may be a
            # few percent of a strength of a fiftieth, and nothing of one that can be smelt.
            for name, line in (("strength", same_draws.strength), ("low", low), ("high", high)):
                shown_line = numbers(note[name])
                np.testing.assert_allclose(shown_line, line[row], rtol=0.01, atol=5e-4)
            # and fewer draws than the package takes widen or narrow its band but little
            for end, name in ((1, "low"), (2, "high")):
                off = numbers(note[name]) - package.band()[end, row]
                widest = max(widest, float(np.abs(off).max()))
            seen += 1
    assert seen > SETTINGS
    assert widest < 0.1, widest  # of a note's own start


def test_without_any_part_it_asks_for_one(opened_file, plan):
    page = opened_file("ratio-and-fade-en.html")
    page.evaluate(
        """() => {
          for (const each of document.querySelectorAll('.oil input')) each.value = 0;
          document.getElementById('oil-0').dispatchEvent(new Event('input'));
        }"""
    )
    page.wait_for_selector("#nothing:not([hidden])")
    assert not page.is_visible("#results")
    assert page.trouble == []


def test_breaking_the_card_is_said_at_once_and_mended_at_once(opened_file, plan):
    page = opened_file("ratio-and-fade-en.html")
    rose = next(n for n, each in enumerate(plan.oils) if each.oil.id == "rose-absolute")
    slider = page.locator(f"#oil-{rose}")
    slider.focus()
    for _ in range(10):
        slider.press("ArrowRight")
    page.wait_for_selector("#verdict.over")
    assert "Rose absolute" in page.inner_text("#verdict")
    for _ in range(10):
        slider.press("ArrowLeft")
    page.wait_for_selector("#verdict:not(.over)")


# --- reading and touching: WCAG 2.2 -------------------------------------------------------

# Relative luminance and contrast ratio: W3C, WCAG 2.2, definitions "relative luminance" and
# "contrast ratio" (read). Success criteria 1.4.3 (4.5:1; 3:1 for text from 18 pt, or 14 pt
# bold) and 2.5.8 (24 by 24 CSS pixels; read).
COLOURS = """() => {
  const found = new Map();
  const main = document.querySelector('main');
  const walker = document.createTreeWalker(main, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const text = walker.currentNode.data.trim();
    const element = walker.currentNode.parentElement;
    if (!text || !element.getClientRects().length) continue;
    const style = getComputedStyle(element);
    let behind = element, background = 'rgba(0, 0, 0, 0)';
    while (behind && background === 'rgba(0, 0, 0, 0)') {
      background = getComputedStyle(behind).backgroundColor;
      behind = behind.parentElement;
    }
    const colour = element.closest('svg') ? style.fill : style.color;
    const key = [colour, background, style.fontSize].join('|');
    found.set(key, {colour, background, size: parseFloat(style.fontSize), text});
  }
  return [...found.values()];
}"""


def luminance(colour: str) -> float:
    shares = [int(part) / 255 for part in colour[colour.index("(") + 1 : -1].split(",")[:3]]
    linear = [s / 12.92 if s <= 0.04045 else ((s + 0.055) / 1.055) ** 2.4 for s in shares]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_contrast_formula_gives_published_ratios():
    # printed: #767676 on white 4.54 and #777777 on white 4.48 (project wiki); 21:1 (W3C)
    white = "rgb(255, 255, 255)"
    assert contrast("rgb(118, 118, 118)", white) == pytest.approx(4.54, abs=0.005)
    assert contrast("rgb(119, 119, 119)", white) == pytest.approx(4.48, abs=0.005)
    assert contrast("rgb(0, 0, 0)", white) == pytest.approx(21)
    assert contrast("rgb(0, 0, 255)", white) == pytest.approx(8.59, abs=0.005)


@pytest.mark.parametrize("name", [name for name in NAMES if "-de" in name])
def test_every_text_has_the_contrast_and_size_to_be_read(opened_file, name):
    page = opened_file(name, PHONE)
    seen = page.evaluate(COLOURS)
    assert seen
    for each in seen:
        assert contrast(each["colour"], each["background"]) >= 4.5, each
        # no criterion asks for a size: 9 pt on paper, 11 units in the chart are the least here
        assert each["size"] >= 11, each


def test_every_control_is_large_enough_for_a_thumb(opened_file):
    page = opened_file("ratio-and-fade-en.html", PHONE)
    for control in page.locator("input, select").all():
        box = control.bounding_box()
        assert box["width"] >= 44
        assert box["height"] >= 44
    assert page.locator("input, select").count() == 9 + 3


# --- on paper -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "sheets"),
    [("ratio-and-fade", 1), ("card", 1), ("recipes", 12), ("exercises", 12), ("answers", 1),
     ("take-home", 12), ("stations", 9)],
)  # fmt: skip
@pytest.mark.parametrize("language", LANGUAGES)
def test_prints_on_as_many_sheets_of_a4_as_meant(opened_file, name, sheets, language):
    page = opened_file(f"{name}-{language}.html")
    page.emulate_media(media="print")
    document = PdfReader(io.BytesIO(page.pdf(format="A4", print_background=True)))
    assert len(document.pages) == sheets
    overflow = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    assert overflow <= 0


def test_station_cards_can_be_read_across_a_table(opened_file):
    page = opened_file("stations-en.html")
    sizes = page.locator("h2").evaluate_all(
        "all => all.map((each) => parseFloat(getComputedStyle(each).fontSize))"
    )
    assert min(sizes) >= 40 * 96 / 72 - 0.01  # 40 pt
