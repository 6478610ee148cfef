"""How much disk the packages take that an installation brings, by package."""

import re
import tomllib
from collections.abc import Iterable, Mapping
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path
from typing import Any, Final

from packaging.requirements import Requirement

PROJECT: Final[Mapping[str, Any]] = tomllib.loads(
    (Path(__file__).resolve().parents[2] / "pyproject.toml").read_text(encoding="utf-8")
)["project"]


def installed_mb() -> dict[str, float]:
    """Return the size of every package that `pip install .` brings, as they are installed here, bytecode left out."""
    return {name: _size_mb(found) for name, found in _brought(PROJECT["dependencies"]).items()}


def _brought(requirements: Iterable[str]) -> dict[str, Distribution]:
    brought: dict[str, Distribution] = {}
    wanted = [(Requirement(each), "") for each in requirements]
    while wanted:
        requirement, extra = wanted.pop()
        name = plain(requirement.name)
        if name in brought or (requirement.marker and not requirement.marker.evaluate({"extra": extra})):
            continue
        try:
            brought[name] = distribution(name)
        except PackageNotFoundError:
            continue
        extras = {"", *requirement.extras}
        wanted += [(Requirement(each), extra) for each in brought[name].requires or () for extra in extras]
    return brought


def plain(name: str) -> str:
    """Return a package's name as indexes write it."""
    return re.sub(r"[-_.]+", "-", name).lower()


def _size_mb(found: Distribution) -> float:
    files = [Path(str(file.locate())) for file in found.files or () if file.suffix != ".pyc"]
    return sum(file.stat().st_size for file in files if file.is_file()) / 1e6
