"""A whole form read: what comes of it, what is wrong beside which field, how each line was understood."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TypeVar

from scheduler.domain import Extended, Target
from scheduler.errors import Fault, InvalidValue, ScenarioFaults, UnknownName

from ..ports import ReadScenario
from ..storage import ScenarioFiles
from .fields import MISSING, WISHES
from .pasted import Pasted, wish_list_of
from .writing import Typed, Written, scenario_toml_of, title_of
from .zones import zones_meant

SETTINGS_FILE = "scenario.toml"
NOT_SHOWN = ("instrument", "observer")
"""Columns that depend on the rest of the form, and say nothing of what a target is."""
REFUSED = {"targets": WISHES, "season.nights": "nights", "site.zone": "zone"}
"""Which field it is that a service refuses more of."""
_ANYWHERE = b"""
[site]
latitude_deg = 0
longitude_deg = 0
zone = "UTC"
[binoculars]
magnification = 10
aperture_mm = 50
"""
_ROW = re.compile(r"\brow (\d+)")
_AGAIN = re.compile(r"each object once; row (?P<row>\d+) \((?P<name>.*)\) is the same one; .*")
_WHOLE = re.compile(r"(?<=\d)\.0\Z")
RAISE = "raise its visits instead"
_FOR_LINES = {
    "a designation or name the catalogue knows, or ra_deg and dec_deg beside it":
        "a name or number the catalogue knows, such as M 31 or Albireo",
    RAISE: "write x2 behind that one for two visits",
}  # fmt: skip
"""The reader's words of cells, for who wrote lines."""
Key = TypeVar("Key", int, str)


@dataclass(frozen=True, slots=True)
class Understood:
    """What a line of the wish-list was understood as, or what is wrong with it.

    Attributes
    ----------
    number : Its line, or its row where the text is a table.
    text : What stands there.
    target : What it was understood as; None where something is wrong, or the list as a whole cannot be read.
    unused : What of it is not used.
    faults : What is wrong with it, each with its remedy.
    """

    number: int
    text: str
    target: Target | None
    unused: str = ""
    faults: tuple[str, ...] = ()

    @property
    def what(self) -> str:
        """What the target is in a word or two, as in "globular cluster" or "planet"."""
        nature = self.target.nature if self.target else None
        known = nature.what if isinstance(nature, Extended) else None
        return known or (self.target.kind.value if self.target else "")


@dataclass(frozen=True, slots=True)
class Answers:
    """A form as files of a scenario, with the way back from the files to the form."""

    title: str
    written: Written
    pasted: Pasted

    @property
    def files(self) -> ScenarioFiles:
        """The files."""
        return ScenarioFiles(self.written.text.encode(), self.pasted.csv.encode())


@dataclass(frozen=True, slots=True)
class Told:
    """What is wrong with a form: by field, by row of the wish-list, and what belongs to neither."""

    fields: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    rows: Mapping[int, tuple[str, ...]] = field(default_factory=dict)
    elsewhere: tuple[str, ...] = ()

    def about(self, name: str) -> Told:
        """Return what is wrong with one field, and with the rows of the wish-list."""
        return Told({one: words for one, words in self.fields.items() if one == name}, self.rows)

    def with_more(self, fields: Mapping[str, tuple[str, ...]]) -> Told:
        """Return this, with what else is wrong with some fields in the place of what was."""
        return replace(self, fields={**self.fields, **fields})


def answers_of(typed: Typed, today: date) -> Answers:
    """Return a form as files; see `scenario_toml_of` and `wish_list_of`."""
    return Answers(
        title_of(typed), scenario_toml_of(typed, today), wish_list_of(typed[WISHES], catalogue_knows)
    )


def catalogue_knows(name: str) -> bool:
    """Tell whether the catalogue knows a name."""
    from scheduler.catalogue import look_up  # reads the catalogue, which takes a moment

    try:
        look_up(name)
    except UnknownName:
        return False
    return True


def told(faults: Iterable[Fault], answers: Answers) -> Told:
    """Return faults of the files beside the fields and lines they came from, in the form's own words."""
    fields: dict[str, list[str]] = {}
    rows: dict[int, list[str]] = {}
    elsewhere: list[str] = []
    for fault in faults:
        name = answers.written.field_of(fault.column) if fault.file == SETTINGS_FILE else WISHES
        if fault.file != SETTINGS_FILE and fault.row in answers.pasted.rows:
            rows.setdefault(fault.row or 0, []).append(in_words(fault, answers))
        elif name is None:
            elsewhere.append(in_words(fault, answers))
        else:
            fields.setdefault(name, []).append(in_words(fault, answers, name))
    return Told(_tuples(fields), _tuples(rows), tuple(elsewhere))


def with_refusal(wrong: Told, refused: InvalidValue) -> Told:
    """Return what is wrong with a form, and besides what this service does not take."""
    name = REFUSED.get(refused.field)
    words = f"read “{refused.value}”, expected {refused.expected}."
    if name is None:
        return replace(wrong, elsewhere=(*wrong.elsewhere, f"{refused.field}: {words}"))
    return replace(wrong, fields={**wrong.fields, name: (*wrong.fields.get(name, ()), words)})


def in_words(fault: Fault, answers: Answers, name: str | None = None) -> str:
    """Return what is wrong and what would put it right, for who sees the form and not the files."""
    if name is not None and name in MISSING and fault.read in ("nothing", "no rows", "no targets"):
        return MISSING[name]
    lines = answers.pasted.lines
    if fault.row in answers.pasted.rows and (again := _AGAIN.fullmatch(fault.expected)):
        stands = f"on line {lines.get(int(again['row']), 0)}" if lines else f"in row {again['row']}"
        return f"{again['name']} stands {stands} already; {_FOR_LINES[RAISE] if lines else RAISE}."
    expected = fault.expected
    if lines:
        expected = _ROW.sub(lambda row: f"line {lines.get(int(row[1]), row[1])}", expected)
        for of_cells, of_lines in _FOR_LINES.items():
            expected = expected.replace(of_cells, of_lines)
    near = zones_meant(fault.read, fault.near) if name == "zone" else fault.near
    hint = f" Did you mean {' or '.join(near)}?" if near else ""
    where = f"{fault.column}: " if fault.row is not None and fault.column not in (None, "target") else ""
    if fault.row is not None and fault.row not in answers.pasted.rows:
        where = f"row {fault.row}, {where or 'as a whole: '}"
    stands_there = fault.read == answers.pasted.rows.get(fault.row or 0)  # and is shown beside it
    read = "" if stands_there else f"read “{_WHOLE.sub('', fault.read)}”, "
    return f"{where}{read}expected {expected}.{hint}"


def understood(answers: Answers, wrong: Told, read: ReadScenario) -> tuple[Understood, ...]:
    """Return every line of the wish-list with what it was understood as, or what is wrong with it.

    Parameters
    ----------
    answers : The form.
    wrong : What reading it found.
    read : Reads a scenario; asked once more for the sound lines alone.
    """
    pasted = answers.pasted
    targets = dict(zip(_sound_rows(pasted, wrong.rows), _targets(pasted, wrong, read), strict=False))
    return tuple(
        Understood(
            pasted.lines.get(row, row),
            text,
            targets.get(row),
            pasted.unused.get(row, ""),
            wrong.rows.get(row, ()),
        )
        for row, text in pasted.rows.items()
    )


def _sound_rows(pasted: Pasted, faulty: Collection[int]) -> list[int]:
    return [row for row in pasted.rows if row not in faulty]


def _targets(pasted: Pasted, wrong: Told, read: ReadScenario) -> tuple[Target, ...]:
    """Return the targets of the sound rows, or none where the list as a whole cannot be read."""
    if WISHES in wrong.fields or not _sound_rows(pasted, wrong.rows):
        return ()
    try:
        return read("preview", ScenarioFiles(_ANYWHERE, _sound_part(pasted, wrong.rows).encode())).targets
    except ScenarioFaults:
        return ()


def _sound_part(pasted: Pasted, faulty: Collection[int]) -> str:
    """Return the wish-list without its faulty rows and what depends on the rest of the form."""
    mark = pasted.mark
    table = list(csv.reader(io.StringIO(pasted.csv, newline=""), delimiter=mark))
    left = [table[row - 1] for row in (pasted.header, *_sound_rows(pasted, faulty))]
    names = ["_".join(cell.casefold().split()) for cell in left[0]]
    shown = [
        [cell for cell, name in zip(cells, names, strict=False) if name not in NOT_SHOWN] for cells in left
    ]
    written = io.StringIO(newline="")
    csv.writer(written, delimiter=mark).writerows(shown)
    return written.getvalue()


def _tuples(found: Mapping[Key, list[str]]) -> dict[Key, tuple[str, ...]]:
    return {key: tuple(words) for key, words in found.items()}
