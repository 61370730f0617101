"""Style sheets of the panels, which each panel brings along."""

from string import Template

from blendkit.foundation.shipping import package_text
from blendkit.showing.kit import look

STALE = "bk-stale"


def style_sheet(path: str) -> str:
    """A style sheet of the package, with the house's look for its $names."""
    return Template(package_text(path)).substitute(vars(look), **look.NOTE_COLOURS)


STYLE = f"<style>\n{style_sheet('panels/kit/style.css')}</style>"
