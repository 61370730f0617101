"""DataFrames for people: one row a thing, the unit in every heading."""

import pandas as pd

from blendkit.blend.blend import BlendLike, as_blend
from blendkit.making.mixing_order import SNIFF_TIMES
from blendkit.showing.bottle.rows import sniff_rows, step_rows


def drop_table(blend: BlendLike) -> pd.DataFrame:
    """Contents of the bottle, in mixing order: base, middle, top, carriers.

    Parameters
    ----------
    blend : Blend, document, or path

    Returns
    -------
    DataFrame
        Columns ``material, name, note, drops, volume_ml, mass_g, percent_by_mass,
        percent_by_volume``. `drops` is empty for carriers, which are poured; the volumes sum
        to the liquid in the bottle and both percents to 100.
    """
    return as_blend(blend).bottle.table()


def note_table(blend: BlendLike) -> pd.DataFrame:
    """Each note's share: whole drops, and percents by drops and by mass.

    Parameters
    ----------
    blend : Blend, document, or path

    Returns
    -------
    DataFrame
        Columns ``note, drops, percent_of_oils_by_drops, percent_by_mass``; the last row is
        the carriers, whose drops are empty.
    """
    filling = as_blend(blend).bottle
    is_counted = filling.fields.step_kg is None
    drops = [
        (one.drops or 0) if is_counted else filling.drops_like(one) for one in filling.oils
    ]
    rows = []
    for note in dict.fromkeys(one.note for one in filling.portions):  # in mixing order
        own = [n for one, n in zip(filling.oils, drops, strict=True) if one.note == note]
        rows.append(
            {
                "note": note,
                "drops": sum(own) if own and is_counted else None,
                "percent_of_oils_by_drops": sum(own) / sum(drops) * 100 if own else None,
                "percent_by_mass": filling.mass_fraction_of_note(note) * 100,
            }
        )
    return pd.DataFrame(rows).astype({"drops": "Int64"})


def strength_table(blend: BlendLike) -> pd.DataFrame:
    """The same bottle's strength on each basis, in percent.

    Parameters
    ----------
    blend : Blend, document, or path

    Returns
    -------
    DataFrame
        Columns ``basis, percent``; rows by drops, by volume and by mass.
    """
    filling = as_blend(blend).bottle
    fractions = filling.strength_by_drops, filling.strength_by_volume, filling.strength_by_mass
    percents = [fraction * 100 for fraction in fractions]
    return pd.DataFrame({"basis": ["by drops", "by volume", "by mass"], "percent": percents})


def bench_sheet(blend: BlendLike) -> pd.DataFrame:
    """The steps of mixing, with empty columns to tick and to write the lot in.

    Parameters
    ----------
    blend : Blend, document, or path

    Returns
    -------
    DataFrame
        Columns ``step, action, name, drops, scale_g, volume_ml, mass_g, done, lot``;
        `scale_g` is what the scale shows that was set to zero with the empty bottle.
    """
    frame = pd.DataFrame(step_rows(as_blend(blend).bottle)).astype({"drops": "Int64"})
    return frame.assign(done="", lot="")


def sniff_sheet(blend: BlendLike) -> pd.DataFrame:
    """Drops for one cotton round or blotter, and empty columns for impressions.

    Parameters
    ----------
    blend : Blend, document, or path

    Returns
    -------
    DataFrame
        Columns ``name, note, drops`` and one for each time of sniffing; no rows where no
        small number of drops holds every oil.
    """
    rows = sniff_rows(as_blend(blend).bottle)
    frame = pd.DataFrame(rows, columns=["name", "note", "drops"])
    return frame.assign(**{f"impression {when}": "" for when in SNIFF_TIMES})
