"""Changes between two blend documents, key by key, so that two people's edits both stay.

A document is flattened to one value a key, such as ``("blend", "oils", "lavender", "parts")``.
Oils, carriers and accepted limits go by their own name and not by their place; the order of
such a list is a value of its own, which lets in what another edit added.
"""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, NamedTuple

from blendkit.foundation.errors import UnknownMaterial
from blendkit.materials.amounts import material

_NAMED_BY = {"oils": "id", "carriers": "id", "accepted": "limit"}  # lists of entries
_ORDER = ""  # the key of their order
_DROPS, _DEFAULT = "drops_per_ml", "default"
MOST_SAID = 2  # changes named in a sentence

Key = tuple[str, ...]


class Change(NamedTuple):
    """A value before and after; empty where the key is not there."""

    before: tuple[Any, ...]
    after: tuple[Any, ...]


Changes = Mapping[Key, Change]


def changes(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[Key, Change]:
    """The keys in which two documents differ.

    Examples
    --------
    >>> changes({"strength": "20 %"}, {"strength": "25 %"})
    {('strength',): Change(before=('20 %',), after=('25 %',))}
    """
    old, new = dict(_flat(before)), dict(_flat(after))
    return {
        key: Change(_found(old, key), _found(new, key))
        for key in {**old, **new}
        if _found(old, key) != _found(new, key)
    }


def apply(changed: Changes, document: Mapping[str, Any]) -> dict[str, Any]:
    """A document with these changes, each to its own key; all other keys stay."""
    flat = dict(_flat(document))
    for key, change in changed.items():
        present = flat.pop(key, ())
        if change.after:
            (value,) = change.after
            flat[key] = _merged(present, value) if key[-1] == _ORDER else value
    return _nested(flat)


def inverse(changed: Changes) -> dict[Key, Change]:
    """The changes that lead back."""
    return {key: Change(change.after, change.before) for key, change in changed.items()}


def as_rows(changed: Changes) -> list[list[Any]]:
    """Changes as plain lists, for JSON: key, before, after."""
    return [[list(key), list(each.before), list(each.after)] for key, each in changed.items()]


def from_rows(rows: Any) -> dict[Key, Change]:
    """Changes of `as_rows`.

    Raises
    ------
    ValueError, TypeError
        Nothing that `as_rows` gives.
    """
    return {tuple(key): Change(tuple(old), tuple(new)) for key, old, new in rows}


def in_words(changed: Changes) -> str:
    """The changes in a few words, such as "strength 20 % → 25 %"."""
    said = list(dict.fromkeys(filter(None, (_said(*each) for each in changed.items()))))
    rest = len(said) - MOST_SAID
    return ", ".join(said[:MOST_SAID]) + (f" and {rest} more" if rest > 0 else "")


def _found(flat: Mapping[Key, Any], key: Key) -> tuple[Any, ...]:
    return (flat[key],) if key in flat else ()


def _flat(value: Any, key: Key = ()) -> Iterator[tuple[Key, Any]]:
    name = key[-1] if key else ""
    if isinstance(value, Mapping):
        if key and name != _DROPS:
            yield key, {}  # it is there, whatever is in it
        for each in value:
            yield from _flat(value[each], (*key, str(each)))
    elif name in _NAMED_BY and _is_list_of_entries(value):
        names = _names(value, _NAMED_BY[name])
        yield (*key, _ORDER), names
        for own, entry in zip(names, value, strict=True):
            yield from _flat(entry, (*key, own))
    elif name == _DROPS:
        yield (*key, _DEFAULT), value
    else:
        yield key, value


def _is_list_of_entries(value: object) -> bool:
    return isinstance(value, Sequence) and all(isinstance(e, Mapping) and e for e in value)


def _names(entries: Sequence[Mapping[str, Any]], key: str) -> list[str]:
    """The name of each entry; one that is there twice, which the check refuses, is numbered."""
    names: list[str] = []
    for entry in entries:
        own = str(entry.get(key))
        names.append(own if own not in names else f"{own}\t{len(names)}")
    return names


def _merged(present: Sequence[str], wanted: Sequence[str]) -> list[str]:
    """The order wanted, with what it does not know behind what it follows at present."""
    merged = list(wanted)
    for place, name in enumerate(present):
        if name not in wanted:
            merged.insert(merged.index(present[place - 1]) + 1 if place else 0, name)
    return merged


def _nested(flat: Mapping[Key, Any]) -> dict[str, Any]:
    root: dict[str, Any] = {}
    for key in sorted(flat, key=len):
        place = root
        for name in key[:-1]:
            if not isinstance(place.get(name), dict):
                place[name] = {}
            place = place[name]
        place[key[-1]] = flat[key] or type(flat[key])()  # an empty mapping of its own
    return _with_lists(root)


def _with_lists(place: dict[str, Any]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for name, value in place.items():
        made[name] = value
        if isinstance(value, dict):
            inner = _with_lists(value)
            made[name] = inner
            if name in _NAMED_BY:
                names = dict.fromkeys([*inner.pop(_ORDER, ()), *inner])
                entries = [inner.get(own, {}) for own in names]
                made[name] = [entry for entry in entries if _NAMED_BY[name] in entry]
            elif name == _DROPS and inner.keys() == {_DEFAULT}:
                made[name] = inner[_DEFAULT]
    return made


# --- words --------------------------------------------------------------------------------


def _said(key: Key, change: Change) -> str:
    if ({},) in change:
        return ""
    *_, where, what = ("", "", *key)
    of = next((part for part in key if part in _NAMED_BY), "")
    if of:
        return _said_of_entry(of, where, what, change)
    if where == "note_parts":
        what = f"{what} parts"
    elif where == _DROPS:
        what = "drops in 1 mL" if what == _DEFAULT else f"drops of {_name(what)} in 1 mL"
    missing = "as at first" if key[0] == "day" else "none"
    return f"{what.replace('_', ' ')} {_from_to(change, missing)}"


def _said_of_entry(of: str, own: str, what: str, change: Change) -> str:
    if what == _ORDER:
        return ""
    name = _name(own) if of != "accepted" else f"“{own}”"
    if what == _NAMED_BY[of]:
        verb = "accepted" if of == "accepted" else "added"
        return f"{name} {verb if change.after else 'taken out'}"
    if not (change.before and change.after) and what != "drops":
        return ""  # it came or went with its entry
    return f"{name}, {what} {_from_to(change)}"


def _from_to(change: Change, missing: str = "none") -> str:
    old, new = (", ".join(map(_text, value)) or missing for value in change)
    return f"{old} → {new}"


def _text(value: Any) -> str:
    plain = ", ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)
    return plain[:60] or "empty"


def _name(material_id: str) -> str:
    try:
        return material(material_id).name
    except UnknownMaterial:
        return material_id
