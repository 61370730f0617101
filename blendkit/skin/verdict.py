"""The verdict on a blend: one line a person can act on, and what it rests on."""

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from blendkit.blend.blend import Blend, BlendLike, as_blend
from blendkit.blend.market import Market
from blendkit.foundation.units import show
from blendkit.materials import catalogue
from blendkit.materials.catalogue import Oil, steeped_in
from blendkit.skin import finding_words
from blendkit.skin.check import findings_in
from blendkit.skin.counted_bottle import CountedBottle
from blendkit.skin.limits import NOT_SETTLED, OVER, WITHIN, Finding
from blendkit.skin.uses import judged_as

CLOSE, NOT_CHECKED = "close", "not checked"
_WARNINGS = {
    OVER: "Over skin limits: do not mix.",
    NOT_SETTLED: "Skin limits not settled: do not mix yet.",
}
_NOTABLE_REST = 0.10  # of all oils together; judgement


@dataclass(frozen=True)
class Verdict:
    """A blend judged by the laws and standards of its market.

    Attributes
    ----------
    over, not_settled : tuple of str
        Subjects of the limits that even typical figures pass, and of those that only a high
        end, an old bound, a lot's silence, a name that nothing matches or an unknown kind would
        pass; worst first.
    closest : (str, float) or None
        Subject of the limit that is used most, and the share of it at the high end: 1 is at the
        limit, infinite where prohibited. None where nothing was judged.
    known_by : str
        How that limit itself is known, and its source.
    not_checked : tuple of str
        Sentences.
    accepted : tuple of str
        Sentences: limits not settled that the maker accepted, with the reason.
    advice : tuple of str
        Sentences; no part of the verdict.
    judged_as : str
        A sentence: region, category and places.
    line : str
        The line a person acts on; ``str(verdict)``.
    state : str
        `OVER`, `NOT_SETTLED`, `NOT_CHECKED` in part or whole, `CLOSE` to a limit, or `WITHIN`.
    """

    over: tuple[str, ...]
    not_settled: tuple[str, ...]
    closest: tuple[str, float] | None
    known_by: str
    not_checked: tuple[str, ...]
    accepted: tuple[str, ...]
    advice: tuple[str, ...]
    judged_as: str
    line: str

    @property
    def state(self) -> str:
        """The worst that is known of the blend, in one or two words."""
        if self.over or self.not_settled:
            return OVER if self.over else NOT_SETTLED
        if self.closest is None or self.not_checked:
            return NOT_CHECKED
        return CLOSE if self.closest[1] >= finding_words.CAUTION_FROM else WITHIN

    @property
    def warning(self) -> str:
        """Reason not to mix the blend, for the head of a sheet; "" where there is none."""
        return _WARNINGS.get(self.state, "")

    @property
    def passes(self) -> bool:
        """True where everything was judged, and nothing is over or not settled."""
        return self.state in (CLOSE, WITHIN)

    def __str__(self) -> str:
        return self.line


def verdict(blend: BlendLike, market: Market | None = None) -> Verdict:
    """Judge a blend, as it is really filled, by every law and standard on record.

    Parameters
    ----------
    blend : Blend, document, or path
        Its key ``accepted`` names limits that its maker accepts where they are not settled.
    market : Market, optional
        The blend's own where left out.

    Returns
    -------
    Verdict
    """
    blend = as_blend(blend)
    blend = blend if market is None or market == blend.market else blend.with_(market=market)
    return judge(blend, findings_in(blend.bottle))


def judge(blend: Blend, found: Sequence[Finding], *, in_drops: bool = True) -> Verdict:
    """The verdict on findings of a blend's content, such as of a bottle on the bench.

    Parameters
    ----------
    blend : Blend
    found : sequence of Finding
    in_drops : bool, optional
        Whether drops can be left out still, so that the line says how many.
    """
    deciding = [finding for finding in found if finding.rule.decides]
    broken = [finding for finding in deciding if finding.is_broken]
    broken.sort(key=lambda finding: not finding.is_over)
    judged = [finding for finding in deciding if not finding.is_unknown and finding.amount > 0]
    closest = next(iter(broken or judged), None)
    unchecked = tuple(gaps(blend))
    return Verdict(
        over=_subjects(finding for finding in broken if finding.is_over),
        not_settled=_subjects(finding for finding in broken if not finding.is_over),
        closest=closest and (closest.rule.subject, closest.share),
        known_by=_known(closest) if closest else "",
        not_checked=unchecked,
        accepted=(*finding_words.accepted_in_words(deciding), *_not_needed(blend, found)),
        advice=tuple(finding_words.advice_in_words(found)),
        judged_as=judged_as(blend.market),
        line=" ".join([*_line(blend, deciding, broken, in_drops), *unchecked]),
    )


def _known(finding: Finding) -> str:
    how, source = finding_words.known_by(finding.rule), finding.rule.source
    return f"{how}: {source.removesuffix(f'; {how}').removesuffix(': an upper bound')}"


def _subjects(findings: Iterator[Finding]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(finding.rule.subject for finding in findings))


def _line(
    blend: Blend, deciding: Sequence[Finding], broken: Sequence[Finding], in_drops: bool
) -> list[str]:
    if not broken:
        accepted = finding_words.accepted_in_words(deciding)
        return [finding_words.within_in_words(deciding), *accepted]
    worst, *others = broken
    words = [finding_words.broken_in_words(worst)]
    words += [cure] if in_drops and (cure := _cure(blend, worst, broken)) else []
    for state, is_over in (("over", True), ("not settled", False)):
        names = _subjects(finding for finding in others if finding.is_over == is_over)
        names = tuple(name for name in names if name != worst.rule.subject)
        words += [f"Also {state}: {'; '.join(names)}."] if names else []
    return words


def _cure(blend: Blend, worst: Finding, broken: Sequence[Finding]) -> str:
    """Fewest drops to take out of the oil that weighs most, in a sentence."""
    weighs = {
        p.material: p.mass_kg * catalogue.fold(worst.rule.binding, p.material)
        for p in blend.bottle.oils
    }
    oil_id = max(weighs, key=lambda name: weighs[name])
    if not weighs[oil_id]:
        return ""  # it came with what is poured
    name, now = catalogue.oil(oil_id).name, blend.oil_drops[oil_id]
    if not blend.carriers:
        return "There is no carrier to take the place of a drop: add one."
    for rules, kept in (([f.rule for f in broken], "every"), ([worst.rule], "this")):
        bottle = CountedBottle(blend, rules, {})
        place = bottle.ids.index(oil_id)

        def is_cured(fewer: int, bottle: CountedBottle = bottle, place: int = place) -> bool:
            return not bottle.over(bottle.with_more(bottle.drops, place, -fewer))

        fewer = bisect_left(range(now + 1), True, key=is_cured)
        if fewer <= now:
            first = "Take" if worst.is_over else "Or take"
            return (
                f"{first} out {blend.count_in_words(fewer)} of {name} "
                f"({blend.plain_count(now)} → {blend.plain_count(now - fewer)}), "
                f"and {kept} limit is kept."
            )
    return f"Even without {name}, which weighs most, this limit is not kept: move others too."


def _not_needed(blend: Blend, found: Sequence[Finding]) -> Iterator[str]:
    """Acceptances that change nothing, in sentences."""
    verdicts = {finding.rule.name: finding.verdict for finding in found}
    for limit in blend.accepted:
        if limit not in verdicts:
            yield f"Accepted, but no limit that applies has this name: {limit}."
        elif verdicts[limit] == "over":
            yield f"{limit} is over by typical figures, so accepting it changes nothing."


# --- what was not checked ------------------------------------------------------------------


def gaps(blend: Blend) -> Iterator[str]:
    """Parts of a blend that no figure judges, in sentences."""
    parts = blend.bottle.mass_fractions()
    oils = [oil for oil in blend.base_oils if parts[oil.id] > 0]
    yield from finding_words.without_analysis(oils)
    if blend.botanicals_m3 > 0:
        yield "Not checked: what the dried botanicals in the bottle give off."
    for mixture in blend.mixtures:
        for plants in steeped_in(mixture):
            yield f"Not checked: what {plants} gives off in {mixture.name}."
    yield from _undescribed(oils, parts)


def _undescribed(oils: Sequence[Oil], parts: Mapping[str, float]) -> Iterator[str]:
    """Mass in no analysis where it is much, beyond the oils that have none at all."""
    whole = sum(parts[oil.id] for oil in oils)
    rest = {
        oil.name: parts[oil.id] * oil.unidentified_fraction / whole
        for oil in oils
        if finding_words.is_described(oil)
    }
    if sum(rest.values()) > _NOTABLE_REST:
        most = sorted(rest, key=lambda name: -rest[name])[:2]
        yield (
            f"Not checked: {show(sum(rest.values()) * 100, 2)} % of the oils' mass, which no "
            f"analysis describes, most of it in {' and '.join(most)}."
        )
