"""A formulation workbook for oil-based roll-on perfume.

    >>> import blendkit as bk
    >>> blend = bk.as_blend({
    ...     "bottle": "10 mL", "strength": "20 %",
    ...     "note_parts": {"top": 2, "middle": 1, "base": 2},
    ...     "oils": [{"id": "petitgrain"}, {"id": "neroli"}, {"id": "cedarwood-atlas"}],
    ...     "carriers": [{"id": "jojoba"}],
    ... })
    >>> dict(blend.oil_drops)
    {'petitgrain': 16, 'neroli': 8, 'cedarwood-atlas': 16}

Whatever takes a blend takes a `Blend`, its document, or the path of a kept one. Whatever has a
dimension takes text with its unit ("10 mL") or a pint quantity; a time takes a timedelta too.

`__init__.pyi` lists the public names; each is imported when it is first used. Panels are in
`blendkit.panels`.
"""

from typing import Any

import lazy_loader

_public, _, __all__ = lazy_loader.attach_stub(__name__, __file__)
__version__ = "0.1.0"


def __getattr__(name: str) -> Any:
    """A public name, with the maker's own materials known to the catalogue."""
    import blendkit.keeping.own_materials  # noqa: F401

    return _public(name)


def __dir__() -> list[str]:
    """The public names alone, without the rooms they come from."""
    return [*__all__, "__version__"]
