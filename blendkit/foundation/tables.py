"""Rules of the tables in `data/`, by file name, as `data/tables.toml` writes them."""

from collections.abc import Iterator, Mapping
from types import MappingProxyType
from typing import Any

from blendkit.foundation.schema import Column, Table
from blendkit.foundation.shipping import shipped_words


def _column(rule: Mapping[str, Any]) -> Column:
    return Column(**{**rule, "choices": tuple(rule.get("choices", ()))})


def _tables() -> Iterator[tuple[str, Table]]:
    rules = shipped_words("tables")
    kinds = rules.pop("kinds")
    for name, table in rules.items():
        given = {
            heading: kinds[rule] if isinstance(rule, str) else rule
            for heading, rule in table["columns"].items()
        }
        columns = {heading: _column(rule) for heading, rule in given.items()}
        yield name, Table(tuple(table["key"]), columns)


TABLES: Mapping[str, Table] = MappingProxyType(dict(_tables()))
