"""The sensitisation route: how much of a product a skin allergen may be, at the very most.

No check calls it: some figures of `data/limits.csv` were calculated with it, and it serves for
any other allergen whose threshold is published.
"""

import math
from collections.abc import Mapping

from blendkit.foundation.errors import Problem, near_miss, quoted, refuse_any

# Mass fraction per µg/cm²: 1 / (assessment factor times exposure). The tables of both by
# category were not read, so their product is fixed on three published pairs of threshold and
# limit (cinnamyl alcohol, citral, geraniol). The rounding of those limits leaves 4.25e-6 to
# 4.31e-6 and 1.086e-6 to 1.107e-6.
PER_UG_PER_CM2: Mapping[str, float] = {"4": 4.28e-6, "5A": 1.10e-6}
_HIGHEST_UG_PER_CM2 = 1e5  # weaker than any sensitiser with a published threshold


def sensitisation_bound(nesil_ug_per_cm2: float, category: str) -> float:
    """Upper bound of a product's mass fraction of a skin allergen. [-]

    A standard prints the lower of this figure and of what other harm allows, so a limit may be
    far below it: citronellal's is a sixth. A limit above it would be wrong.

    Parameters
    ----------
    nesil_ug_per_cm2 : float
        The largest dose on skin that is not expected to make anybody allergic (NESIL), above 0
        and up to 100 000. [µg/cm²]
    category : str
        "4" for perfume, with alcohol or oil; "5A" for body oil and lotion.

    Raises
    ------
    BadNumber
        For another category, or a threshold outside that range.

    Notes
    -----
    ``NESIL / (SAF CEL)``, with the sensitisation assessment factor SAF [-] and the consumer
    exposure level CEL, product per skin area and day [µg/cm²]. `PER_UG_PER_CM2` holds
    ``1 / (SAF CEL)``, good to about 1 %.

    References
    ----------
    A. M. Api et al., Regul. Toxicol. Pharmacol. 118 (2020) 104805 (abstract read; its tables of
    SAF and CEL were not).

    Examples
    --------
    >>> f"{sensitisation_bound(2900, '4') * 100:.2g} %"  # cinnamyl alcohol; the Standard: 1.2 %
    '1.2 %'
    """
    problems = []
    if category not in PER_UG_PER_CM2:
        needed, hint = "one of 4, 5A", near_miss(category, PER_UG_PER_CM2)
        problems.append(Problem("category", quoted(category), needed, hint))
    # written so that NaN, which is neither too low nor too high, is refused as well
    if not (math.isfinite(nesil_ug_per_cm2) and 0 < nesil_ug_per_cm2 <= _HIGHEST_UG_PER_CM2):
        needed = f"a number above 0 and up to {_HIGHEST_UG_PER_CM2:g}"
        problems.append(Problem("nesil_ug_per_cm2", quoted(nesil_ug_per_cm2), needed))
    refuse_any(problems)
    return nesil_ug_per_cm2 * PER_UG_PER_CM2[category]
