"""What the tests of the skin check share: blends, oils and findings."""

import dataclasses
import math

from blendkit.blend.blend import Blend
from blendkit.blend.market import Market
from blendkit.foundation import data
from blendkit.materials import catalogue
from blendkit.materials.catalogue import Share
from blendkit.materials.constituents import match_shares
from blendkit.skin import check
from blendkit.skin.limits import findings_of
from blendkit.skin.rules import rules_of

IFRA, EU = "IFRA standards", "EU Cosmetics Regulation"
LIMITS = data.table("limits")
USED = LIMITS[LIMITS["used"] == "yes"]
REGIONS = ("EU", "UK", "US", "Canada", "other")


def blend_of(oil_ids, carriers=("jojoba",), **more):
    document = {
        "bottle": "10 mL",
        "strength": "20 %",
        "note_parts": {catalogue.oil(name).note: 1 for name in oil_ids},
        "oils": [{"id": name} for name in oil_ids],
        "carriers": [{"id": name} for name in carriers],
    }
    return Blend.from_dict(document | more)


def stated(oil_id, contents="", lot=False):
    """An oil with only the contents stated, in percent; as a lot of its own if asked."""
    shares = []
    for word in filter(None, contents.split(", ")):
        name, percent = word.rsplit(" ", 1)
        of_name = match_shares(name)
        assert of_name, name
        for constituent_id, part in of_name.items():
            fraction = float(percent) / 100 * part
            shares.append(Share(constituent_id, fraction, fraction, fraction, "stated", "read"))
    oil = catalogue.oil(oil_id)
    return dataclasses.replace(
        oil,
        id=f"{oil_id}@stated" if lot else oil_id,
        composition=tuple(shares),
        composition_known=True,
    )


def findings(oils, percents, region="EU", use="perfume oil"):
    rules = rules_of(tuple(oils), Market(region, use))
    return findings_of(rules, {name: percent / 100 for name, percent in percents.items()})


def rules_for(oil_ids, region=None, use=None):
    """The rules for some oils, in a market named in short."""
    return check.rules_for(oil_ids, Market().with_(region, use))


def verdicts_of(rules, fractions):
    return {finding.verdict for finding in findings_of(rules, fractions)}


def shares(found):
    """Share of the limit by rule set, subject and kind, of rules with a figure."""
    return {
        (f.rule.rule_set, f.rule.subject, f.rule.kind): f.share
        for f in found
        if not math.isnan(f.share)
    }
