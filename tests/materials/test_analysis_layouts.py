"""One composition in the layouts of the trade: read as written, or refused, never misread.

The layouts are common practice, no published source.
"""

from __future__ import annotations

import csv
import io
import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from blendkit import BadAnalysis, constituents, read_analysis
from blendkit.foundation import data
from blendkit.materials.constituents import match_shares
from tests.tools.fuzzing import both_happen, drawing

RECORDED = data.table("constituent_names").query("kind == 'name'")
SPELLINGS = {
    name: next(iter(match_shares(name)))
    for name in RECORDED["name"]
    if len(match_shares(name)) == 1
}
USUAL = {name: key for key, name in constituents()["name"].items()}
CAS = re.compile(r"\d{2,7}-\d{2}-\d")
HEADINGS = {
    "number": ["No", "Peak", "Nr.", "#"],
    "time": ["RT", "RT (min)", "Ret. time", "Retentionszeit", "TR"],
    "index": ["RI", "Kovats index", "KI"],
    "name": ["Compound", "Name", "Constituent", "Bestandteil", "Composé"],
    "cas": ["CAS", "CAS No.", "CAS number", "N° CAS"],
    "formula": ["Formula", "Summenformel"],
    "amount": ["Area %", "%", "Content (%)", "Gehalt %", "Teneur (%)", "rel. %"],
    "mass": ["M.W.", "Mol. weight"],
}
SEPARATORS = ["\t", ";", " | ", "   ", " ", ","]


@st.composite
def compositions(draw, names=SPELLINGS):
    """Some names and their amounts as texts, that sum to 100 % at most."""
    chosen = draw(
        st.lists(st.sampled_from(sorted(names)), min_size=1, max_size=6, unique_by=names.get)
    )
    places = draw(st.integers(0, 3))
    most = int(100 / len(chosen))
    least = 10**places
    amounts = [draw(st.integers(least, most * 10**places)) for _ in chosen]
    return {
        name: f"{amount / 10**places:.{places}f}"
        for name, amount in zip(chosen, amounts, strict=True)
    }


def cell(kind, name, amount, number, chance):
    key = SPELLINGS.get(name, USUAL.get(name))
    return {
        "number": str(number),
        "time": f"{chance.uniform(3, 60):.2f}",
        "index": str(chance.randint(700, 2200)),
        "name": name,
        "cas": key if CAS.fullmatch(key) else "",
        "formula": "C10H18O",
        "amount": amount,
        "mass": f"{chance.uniform(100, 250):.2f}",
    }[kind]


def written(composition, kinds, separator, seed, *, heading, comma=False, sign="", spread=""):
    """The composition in one layout."""
    chance = random.Random(seed)
    lines = [[chance.choice(HEADINGS[kind]) for kind in kinds]] if heading else []
    for number, (name, amount) in enumerate(composition.items(), 1):
        shown = [cell(kind, name, f"{amount}{spread}{sign}", number, chance) for kind in kinds]
        if comma:
            shown = [
                text.replace(".", ",") if kind in ("time", "amount", "mass") else text
                for kind, text in zip(kinds, shown, strict=True)
            ]
        lines.append(shown)
    if separator != ",":
        return "\n".join(separator.join(line) for line in lines)
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(lines)
    return out.getvalue()


def says_what_is_written(text, composition):
    """Whether the text is read; where it is, its numbers must be those written."""
    try:
        found = read_analysis(text)
    except BadAnalysis:
        return False
    expected = {
        SPELLINGS.get(name, USUAL.get(name)): float(amount)
        for name, amount in composition.items()
    }
    assert {key: amount.typical for key, amount in found.amounts.items()} == expected, text
    assert not found.unmatched, text
    return True


@st.composite
def layouts(draw):
    others = draw(st.permutations(["number", "time", "index", "cas", "formula", "mass"]))
    kinds = [*others[: draw(st.integers(0, 4))], "amount"]
    kinds.insert(draw(st.integers(0, len(kinds))), "name")
    return draw(st.permutations(kinds)) if draw(st.booleans()) else kinds


def test_any_layout_is_read_as_written_or_refused():
    with both_happen("layouts") as seen:

        @drawing(250)
        @given(
            composition=compositions(),
            kinds=layouts(),
            separator=st.sampled_from(SEPARATORS),
            seed=st.integers(0, 10**6),
            heading=st.booleans(),
            comma=st.booleans(),
            sign=st.sampled_from(["", "%", " %"]),
            spread=st.sampled_from(["", "", " ± 0.4", "±0.05"]),
        )
        def read(composition, kinds, separator, seed, **how):
            text = written(composition, kinds, separator, seed, **how)
            seen["result" if says_what_is_written(text, composition) else "refusal"] += 1

        read()


@drawing(60)
@given(
    composition=compositions(USUAL),
    kinds=layouts(),
    separator=st.sampled_from(["\t", ";", ","]),
    seed=st.integers(0, 10**6),
    comma=st.booleans(),
)
def test_a_table_with_headings_is_read(composition, kinds, separator, seed, comma):
    text = written(composition, kinds, separator, seed, heading=True, comma=comma, sign=" %")
    assert says_what_is_written(text, composition)


@drawing(60)
@given(composition=compositions(USUAL), cas=st.sampled_from([0, 1, 2]), comma=st.booleans())
def test_lines_with_one_number_are_read(composition, cas, comma):
    kinds = ["name", "amount"]
    kinds[cas:cas] = ["cas"] if cas < 2 else []
    text = written(composition, kinds, " ", 0, heading=False, comma=comma, sign=" %")
    assert says_what_is_written(text, composition)


@drawing(100)
@given(composition=compositions(), seed=st.integers(0, 10**6), before=st.booleans())
def test_two_bare_numbers_are_never_one_amount(composition, seed, before):
    kinds = ["time", "name", "amount"] if before else ["name", "amount", "time"]
    with pytest.raises(BadAnalysis, match="line 1"):
        read_analysis(written(composition, kinds, " ", seed, heading=False))
