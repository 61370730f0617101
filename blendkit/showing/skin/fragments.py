"""Names that a label must carry and cautions, as HTML."""

from __future__ import annotations

from collections.abc import Iterable

import pandas as pd

from blendkit.showing.kit.rendering import render
from blendkit.skin.cautions import Caution


def allergen_list(names: pd.DataFrame) -> str:
    """Names that a label must carry, as a small HTML table."""
    rows = names[names["must_be_named"]].to_dict("records")
    return render("allergens", rows=rows)


def caution_list(cautions: Iterable[Caution]) -> str:
    """Cautions by topic, as HTML."""
    rows = [caution._asdict() for caution in cautions]
    return render("cautions", rows=rows)
