"""Folders that ship with the code: tables and notebooks."""

import tomllib
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import Any

from blendkit.foundation.errors import BadTable, Problem


def package_text(path: str) -> str:
    """Text of a file of the package, such as "panels/kit/style.css"."""
    return files("blendkit").joinpath(path).read_text(encoding="utf-8")


def shipped_words(name: str) -> dict[str, Any]:
    """The document of `data/` of this name: rules and words, which are no figures."""
    text = (shipped_folder("data") / f"{name}.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)


def shipped_folder(name: str) -> Traversable:
    """A folder that ships with the package: inside it when installed, next to it in a checkout.

    Parameters
    ----------
    name : str
        "data" or "notebooks".

    Raises
    ------
    BadTable
        Neither place has it.
    """
    packaged = files("blendkit") / name
    if packaged.is_dir():
        return packaged
    checkout = Path(__file__).resolve().parents[2]
    # pyproject.toml must be there, so that some other project's folder is never taken for ours
    if (checkout / "pyproject.toml").is_file() and (checkout / name).is_dir():
        return checkout / name
    raise BadTable([Problem(name, "no such folder", "the files that ship with blendkit")])
