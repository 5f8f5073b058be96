"""Imports go one way: a module sees lower floors only, and outside libraries stay where they belong."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

FLOORS: dict[str, float] = {
    "scheduler.errors": 0,
    "scheduler.domain": 1,
    "scheduler.figures": 1, "scheduler.clock": 1,
    "scheduler.road": 1.4, "scheduler.cells": 1.4, "scheduler.kit_list": 1.45,
    "scheduler.setting_up": 1.4, "scheduler.hosting": 1.4, "scheduler.cautions": 1.47,
    "scheduler.diary": 1.5, "scheduler.practice": 1.5,
    "scheduler.answer_words": 1.5, "scheduler.moves": 1.5, "scheduler.pictures": 1.6,
    "scheduler.differences": 1.6, "scheduler.evening_words": 1.6, "scheduler.notices": 1.7,
    "scheduler.scenario": 2, "scheduler.catalogue": 2, "scheduler.weather": 2, "scheduler.sky": 2,
    "scheduler.assignment": 2, "scheduler.order": 2, "scheduler.prices": 2, "scheduler.check": 2,
    "scheduler.walk": 2, "scheduler.growth": 2.05, "scheduler.night": 2.1, "scheduler.refit": 2.1,
    "scheduler.sequence": 2.1,
    "scheduler.export": 2,
    "scheduler.visibility": 3, "scheduler.reading": 3, "scheduler.pricing": 3, "scheduler.policy": 3,
    "scheduler.outings": 3, "scheduler.following": 3.2, "scheduler.simulation": 3.2,
    "scheduler.rehearsal": 3.3,
    "scheduler.expectation": 3.4, "scheduler.tuning": 3.4,
    "scheduler.placed": 3.5, "scheduler.ahead": 3.6,
    "scheduler.pointing": 2.5,
    "scheduler.wanted": 2.5, "scheduler.ready": 3.4, "scheduler.standing": 3.5, "scheduler.changes": 3.5,
    "scheduler.showing": 3.5,
    "scheduler.programme": 3.5, "scheduler.up": 3.5, "scheduler.planets": 3.5,
    "scheduler.skydates": 3.6,
    "scheduler.writing": 3.8, "scheduler.year": 4, "scheduler.explain": 4.5,
    "scheduler.replanning": 5, "scheduler.answers": 5,
    "scheduler": 6,
    "scheduler.terminal": 6.1, "scheduler.terminal_sky": 6.1, "scheduler.terminal_night": 6.1,
    "scheduler.terminal_weather": 6.1, "scheduler.terminal_explain": 6.1,
    "scheduler.commands": 6.15, "scheduler.questions": 6.17,
    "scheduler.cli": 6.2,
    "scheduler.__main__": 6.3,
    "api": 7, "api.errors": 7, "api.calendar_errors": 7.01, "api.headers": 7,
    "api.settings": 7.04, "api.sources": 7.06, "api.logs": 7.06, "api.metrics": 7.08,
    "api.migrations": 7.05, "api.seal": 7.05, "api.caldav": 7.06,
    "api.storage": 7.1, "api.toml_parts": 7.2, "api.log_csv": 7.2,
    "api.calendar": 7.1, "api.kinds": 7.1, "api.conditional": 7.1,
    "api.problems": 7.2, "api.ports": 7.2, "api.shapes": 7.4, "api.reference": 7.2,
    "api.described": 7.2, "api.recent": 7.3,
    "api.limits": 7.2, "api.patience": 7.2, "api.guards": 7.3,
    "api.amending": 7.2, "api.door": 7.3, "api.deeds": 7.4, "api.hands": 7.4,
    "api.watch": 7.3, "api.engaged": 7.3, "api.fetching": 7.05, "api.free_nights": 7.35,
    "api.deps": 8, "api.jobs": 8, "api.publish": 8, "api.auth": 8.1, "api.kept": 8.1, "api.logged": 8.15,
    "api.starting": 8.2,
    "api.asking": 7.5, "api.calendar_reading": 7.5,
    "api.beginning": 7.3, "api.companions": 8.05, "api.engagements": 8.1,
    "api.seasons": 7.2, "api.ics": 7.2, "api.skydates": 7.25, "api.feeding": 7.3, "api.publishing": 7.3,
    "api.page": 7.12, "api.shelf": 7.25, "api.worker": 9, "api.routes": 9, "api.pages": 9.5,
    "api.app": 10, "api.command": 10.1, "api.upkeep": 10.1,
}  # fmt: skip

ONLY_IN: dict[str, tuple[str, ...]] = {
    "skyfield": ("scheduler.sky",), "skyfield_data": ("scheduler.sky",), "jplephem": ("scheduler.sky",),
    "ortools": ("scheduler.assignment",), "svg": ("scheduler.pictures",), "resvg_py": ("scheduler.pictures",),
    "pymupdf_fonts": ("scheduler.pictures",), "pyongc": ("scheduler.catalogue",),
    "rich": (
        "scheduler.terminal", "scheduler.terminal_sky", "scheduler.terminal_night", "scheduler.commands",
        "scheduler.cli", "scheduler.terminal_weather", "scheduler.terminal_explain", "scheduler.questions",
    ),
    "fastapi": ("api",), "starlette": ("api",), "uvicorn": ("api",),
    "sqlalchemy": ("api.storage", "api.migrations"),
    "httpx": ("api",), "httpx2": ("api",), "icalendar": ("api",),
    "httpcore2": ("api.fetching",), "recurring_ical_events": ("api.engaged",),
    "cryptography": ("api.seal",), "jinja2": ("api.page",), "markupsafe": ("api.page", "api.pages"),
    "alembic": ("api.migrations",), "psycopg": ("api.storage",), "dbos": ("api.jobs",),
    "socket": ("api",), "sqlite3": ("api", "scheduler.catalogue"), "urllib": ("api",), "http": ("api",),
}  # fmt: skip


def floor_of(module: str) -> tuple[str, float]:
    """Return the floor's owner (the longest known prefix of `module`) and its height."""
    parts = module.split(".")
    for length in range(len(parts), 0, -1):
        owner = ".".join(parts[:length])
        if owner in FLOORS:
            return owner, FLOORS[owner]
    raise KeyError(module)


def imports_of(module: str, source: str, is_package: bool) -> Iterator[str]:
    """Yield the absolute name of everything `source` imports, late imports included."""
    package = module if is_package else module.rpartition(".")[0]
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.Call) and ast.unparse(node.func).endswith("import_module"):
            yield from (str(word.value) for word in node.args[:1] if isinstance(word, ast.Constant))
        elif isinstance(node, ast.ImportFrom):
            base = package.split(".")[: len(package.split(".")) - node.level + 1] if node.level else []
            name = ".".join([*base, *([node.module] if node.module else [])])
            known = {alias.name for alias in node.names if f"{name}.{alias.name}" in FLOORS}
            yield from (f"{name}.{alias}" for alias in sorted(known))
            if len(known) < len(node.names):
                yield name


WAYS_UP = {("scheduler.cli", "api.command"), ("scheduler.cli", "api.upkeep")}
"""The command line starts the service and looks after its database, by name and late."""


def breaches_of(module: str, source: str, is_package: bool = False) -> list[str]:
    """Return every import of `source` that goes up, sideways, or where an outside library may not be."""
    owner, floor = floor_of(module)
    found = []
    for name in imports_of(module, source, is_package):
        top = name.split(".")[0]
        if top in {"scheduler", "api"}:
            other, height = floor_of(name)
            if other != owner and height >= floor and (owner, name) not in WAYS_UP:
                found.append(f"{module} (floor {floor:g}) imports {name} (floor {height:g})")
        elif top in ONLY_IN and not any(
            owner == home or owner.startswith(f"{home}.") for home in ONLY_IN[top]
        ):
            found.append(f"{module} imports {top}, which belongs in {' and '.join(ONLY_IN[top])}")
    return found


def modules() -> list[tuple[str, Path]]:
    paths = [path for package in ("scheduler", "api") for path in sorted((ROOT / package).rglob("*.py"))]
    dotted = [".".join(path.relative_to(ROOT).with_suffix("").parts) for path in paths]
    return [(name.removesuffix(".__init__"), path) for name, path in zip(dotted, paths, strict=True)]


@pytest.mark.parametrize(
    ("module", "path"), modules(), ids=lambda value: value if isinstance(value, str) else ""
)
def test_a_module_imports_from_lower_floors_only(module: str, path: Path) -> None:
    assert breaches_of(module, path.read_text("utf-8"), path.name == "__init__.py") == []


@pytest.mark.parametrize(
    ("module", "planted"),
    [
        ("scheduler.domain.site", "from ..sky import ephemeris"),
        ("scheduler.sky.moon", "from ..assignment import solve"),
        ("scheduler.year", "import skyfield.api"),
        ("scheduler.prices", "def late():\n    from ortools.sat.python import cp_model"),
        ("scheduler.check", "from . import export"),
        ("scheduler.weather.ahead", "from ..prices import chain_of"),
        ("scheduler.weather.report", "from ..scenario import read_scenario"),
        ("scheduler.weather", "import rich"),
        ("scheduler.visibility.windows", "from scheduler.year import plan_year"),
        ("api.storage", "from .routes import plans"),
        ("scheduler.export", "import httpx"),
        ("scheduler.export", "import svg"),
        ("scheduler.writing", "import resvg_py"),
        ("api.routes", "import pymupdf_fonts"),
        ("scheduler.pictures.nights", "from ..visibility.free import free_nights_of"),
        ("scheduler.year", "from importlib import import_module\nimport_module('api.app')"),
    ],
)
def test_a_planted_import_is_caught(module: str, planted: str) -> None:
    assert breaches_of(module, planted)


def test_every_package_and_module_has_a_floor_of_its_own() -> None:
    tops = {
        path
        for path in (*ROOT.glob("scheduler/*"), *ROOT.glob("api/*"))
        if not path.name.startswith(("_", "."))
    }
    names = {
        f"{path.parent.name}.{path.stem}"
        for path in tops
        if path.suffix == ".py" or (path / "__init__.py").exists()
    }
    assert names <= set(FLOORS)


def test_the_top_level_holds_exactly_what_was_agreed() -> None:
    kept = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "scheduler",
        "api",
        "tests",
        "scenarios",
    }
    passing = {"out", "build", "dist"}
    seen = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert {name for name in seen - passing if not name.endswith((".egg-info", ".sqlite3"))} - kept == set()
