"""The table of truth: every published check, misses included, as one table.

A test that holds the work against a published figure asks for the fixture `beside_published`
and hands it both figures. The fixture judges, and what it was told becomes a row:

    pytest -m published --truth print     shows the table
    pytest -m published --truth write     puts it into tests/published/TRUTH.md

A run of all tests compares it with that page and fails where the two differ, so that the page
cannot go stale.
"""

from __future__ import annotations

import math
import re
from dataclasses import asdict, astuple, dataclass, fields
from pathlib import Path

import pytest

PAGE = Path(__file__).resolve().parents[1] / "published" / "TRUTH.md"
_ROW = "a row of the table of truth"


@dataclass(frozen=True)
class Row:
    """One check as it is shown."""

    what: str
    published: str
    ours: str
    difference: str
    allowed: str
    verdict: str
    source: str


def judged(
    what: str,
    ours: float,
    published: float,
    low: float,
    high: float,
    *,
    unit: str = "",
    missed: str = "",
    source: str,
) -> Row:
    """A row, after asserting that it is met, or that it is missed where `missed` says why."""
    is_met = low <= ours <= high
    unit = f" {unit}" if unit else ""
    row = Row(
        what,
        f"{_figure(published)}{unit}",
        f"{_figure(ours)}{unit}",
        _difference(ours, published),
        _figure(low) if low == high else f"{_figure(low)} … {_figure(high)}",
        "met" if is_met else f"MISSED: {missed}",
        source,
    )
    if missed:
        assert not is_met, f"said to be missed, and is met: {row}"
    else:
        assert is_met, row
    return row


def _figure(number: float) -> str:
    if math.isinf(number):
        return "any" if number > 0 else "none"
    return f"{number:.3g}" if abs(number) < 999.5 else f"{number:,.0f}"


def _difference(ours: float, published: float) -> str:
    # the last bit of a float differs from one release of numpy or pint to the next
    if math.isclose(ours, published, rel_tol=1e-12):
        return "0"
    if published == 0:
        return _figure(ours)
    percent = (ours / published - 1) * 100
    if abs(percent) < 0.05:
        return "below 0.1 %"
    return f"{percent:+.0f} %" if abs(percent) >= 9.95 else f"{percent:+.1f} %"


def markdown(rows: list[Row]) -> str:
    """The rows as a table, in order of their sources and words."""
    heading = [field.name for field in fields(Row)]
    missed = sum(row.verdict != "met" for row in rows)
    lines = [
        f"{len(rows)} checks, {len(rows) - missed} met, {missed} missed.",
        "",
        "| " + " | ".join(heading) + " |",
        "|---" * len(heading) + "|",
    ]
    ordered = sorted(set(rows), key=lambda row: (row.source, *astuple(row)))
    lines += [
        "| " + " | ".join(cell.replace("|", "\\|") for cell in astuple(row)) + " |"
        for row in ordered
    ]
    return "\n".join(lines)


# --- the plug-in --------------------------------------------------------------------------


def pytest_addoption(parser):
    """How the table is asked for."""
    parser.addoption("--truth", choices=("print", "write"), help="the table of truth")


def mark_published(items):
    """Mark the checks, so that they can be run alone."""
    for item in items:
        if "beside_published" in getattr(item, "fixturenames", ()):
            item.add_marker("published")


@pytest.fixture
def beside_published(request):
    """To be called with what is held beside a published figure; see `judged`."""

    def hold(what: str, ours: float, published: float, low: float, high: float, **words: str):
        row = judged(what, float(ours), float(published), low, high, **words)
        request.node.user_properties.append((_ROW, asdict(row)))

    return hold


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session):
    """Print, write, or compare with the page."""
    config, asked = session.config, session.config.getoption("truth")
    terminal = config.pluginmanager.get_plugin("terminalreporter")
    if hasattr(config, "workerinput") or not terminal:
        return  # one of several processes: the rows come together in the first, by its reports
    reports = [each for kind in ("passed", "failed") for each in terminal.getreports(kind)]
    told = [each for report in reports for each in report.user_properties]
    table = markdown([Row(**row) for name, row in told if name == _ROW])
    if asked == "print":
        terminal.write_line("\n" + table)
    elif asked == "write" and not session.testsfailed:
        PAGE.write_text(f"{_preface()}{table}\n", encoding="utf-8")
    elif _is_whole(session) and PAGE.read_text(encoding="utf-8") != f"{_preface()}{table}\n":
        fix = "run: pytest -m published --truth write, and look at the difference"
        terminal.write_line(f"\n{PAGE.name} does not show what was checked; {fix}", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


def _preface() -> str:
    """What the page says above its figures: all before the line that counts the checks."""
    return re.split(r"^\d+ checks", PAGE.read_text(encoding="utf-8"), flags=re.MULTILINE)[0]


def _is_whole(session: pytest.Session) -> bool:
    option = session.config.option
    chosen = option.keyword or option.markexpr or getattr(option, "lf", False)
    everything = session.config.args == session.config.getini("testpaths")
    return everything and not chosen and not option.collectonly and not session.testsfailed
