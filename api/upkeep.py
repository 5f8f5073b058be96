"""What whoever runs the service does with its database: `duskwright backup`, `database` and `club`."""

from __future__ import annotations

import argparse
import os
import secrets
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from scheduler.errors import CannotWrite

from .auth import made_key
from .door import scheduler_door
from .errors import DatabaseUnusable, UnreadableClub
from .kept import check_club
from .ports import Door
from .seal import SEAL_KEY, made_seal_key
from .settings import Settings
from .sources import read_settings
from .storage import NewKey, Role, Storage, name_of, url_of

PASSWORDS = (
    "Others see a command line: give the password of a PostgreSQL database by the environment, in "
    "DUSKWRIGHT_DATABASE, or in PGPASSWORD for an address without one."
)


@dataclass(frozen=True, slots=True)
class _Reader:
    door: Door
    settings: Settings


def upkeep_command(name: str, words: Sequence[str]) -> int:
    """Carry out `duskwright backup`, `duskwright database` or `duskwright club` and return its exit code.

    Raises
    ------
    DatabaseUnusable, CannotWrite, DiskFull, NoSuch, AlreadyKept, UnreadableClub
        Whatever goes wrong; then nothing is written and nothing changed.
    """
    options = {"backup": _backup, "database": _database, "club": _club}[name](words)
    code: int = options.deed(options)
    return code


def _parser(name: str, purpose: str) -> argparse.ArgumentParser:
    return argparse.ArgumentParser(
        prog=f"duskwright {name}", description=purpose, epilog=PASSWORDS, allow_abbrev=False
    )


def _add_database(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--database", metavar="X", help="SQLite file or postgresql:// address (default: the setting)"
    )


def _backup(words: Sequence[str]) -> argparse.Namespace:
    parser = _parser(
        "backup", "Write everything the service keeps into a new SQLite file; it may go on serving."
    )
    parser.add_argument("to", metavar="TO", type=Path, help="the new file")
    _add_database(parser)
    parser.set_defaults(deed=_back_up)
    return parser.parse_args(words)


def _database(words: Sequence[str]) -> argparse.Namespace:
    parser = _parser("database", "Look after the database.")
    deeds = parser.add_subparsers(required=True, metavar="DEED")
    upgrade = deeds.add_parser("upgrade", help="bring an older format up to date")
    _add_database(upgrade)
    upgrade.set_defaults(deed=_upgrade)
    move = deeds.add_parser("move", help="copy everything into another, empty database", epilog=PASSWORDS)
    move.add_argument("source", metavar="FROM", help="SQLite file or postgresql:// address")
    move.add_argument("target", metavar="TO", help="the same, holding nothing yet")
    move.add_argument(
        "--although-at-work", action="store_true",
        help="even if a service is at work on FROM; what it is told afterwards is not in TO",
    )  # fmt: skip
    move.set_defaults(deed=_move)
    return parser.parse_args(words)


def _club(words: Sequence[str]) -> argparse.Namespace:
    parser = _parser("club", "List clubs, write a whole one into a file or take one in, make keys.")
    deeds = parser.add_subparsers(required=True, metavar="DEED")
    out = deeds.add_parser(
        "export", help="write a club into a new file; keys and unfinished jobs stay behind"
    )
    out.add_argument("club", metavar="CLUB", help="its id")
    out.add_argument("file", metavar="FILE", type=Path, help="the new file")
    _add_database(out)
    out.set_defaults(deed=_export)
    taken = deeds.add_parser("import", help="take in a club, with the ids it had")
    taken.add_argument("file", metavar="FILE", type=Path, help="as export wrote it")
    _add_database(taken)
    taken.set_defaults(deed=_import)
    listed = deeds.add_parser("list", help="list the clubs with their ids")
    _add_database(listed)
    listed.set_defaults(deed=_list)
    key = deeds.add_parser("key", help="make a key, as when the owner's is lost; it is told once")
    key.add_argument("club", metavar="CLUB", nargs="?", help="the club's id (default: the whole service)")
    key.add_argument("--role", choices=[role.value for role in Role], default=Role.OWNER.value)
    key.add_argument("--name", default="made on the command line", help="whose it is, or what for")
    _add_database(key)
    key.set_defaults(deed=_key)
    seal_key = deeds.add_parser(
        "seal-key", help=f"make a key that seals others' secrets, for {SEAL_KEY}; nothing is kept of it"
    )
    seal_key.set_defaults(deed=_seal_key)
    return parser.parse_args(words)


def _back_up(options: argparse.Namespace) -> int:
    with _opened(_chosen(options)) as storage:
        counts = storage.back_up(options.to)
    print(f"Written: {options.to} with {_listed(counts)}")
    return 0


def _upgrade(options: argparse.Namespace) -> int:
    database = _chosen(options)
    with _opened(database, upgrade=True):
        print(f"{name_of(url_of(database))} has the newest format")
    return 0


def _move(options: argparse.Namespace) -> int:
    with _opened(options.source) as source, _opened(options.target, new=True) as target:
        counts = source.move_to(target, although_at_work=options.although_at_work)
    print(f"Moved to {name_of(url_of(options.target))}: {_listed(counts)}")
    return 0


def _export(options: argparse.Namespace) -> int:
    with _opened(_chosen(options)) as storage:
        told = storage.transfer.club(options.club)
    _write_new(options.file, told)
    print(f"Written: {options.file}; its keys and unfinished jobs stayed behind")
    return 0


def _import(options: argparse.Namespace) -> int:
    try:
        text = options.file.read_text(encoding="utf-8")
    except OSError as error:
        raise UnreadableClub(str(options.file), f"a file that can be read ({error.strerror})") from error
    except UnicodeDecodeError as error:
        raise UnreadableClub(str(options.file), "UTF-8 text") from error
    reader = _Reader(scheduler_door(), read_settings())
    with _opened(_chosen(options), new=True) as storage:
        club = storage.transfer.take_in(text, partial(check_club, reader))
    print(f"Kept: {club.name}, {club.id}; it has no keys yet")
    return 0


def _list(options: argparse.Namespace) -> int:
    with _opened(_chosen(options)) as storage:
        cursor: int | None = None
        while True:
            page = storage.clubs.page(cursor, 200)
            for club in page.items:
                print(f"{club.id}  {club.name}")
            if (cursor := page.cursor) is None:
                return 0


def _key(options: argparse.Namespace) -> int:
    with _opened(_chosen(options)) as storage:
        _, token = made_key(storage, NewKey(options.club, Role(options.role), options.name))
    print(token)
    return 0


def _seal_key(options: argparse.Namespace) -> int:
    print(made_seal_key())
    return 0


def _chosen(options: argparse.Namespace) -> str:
    return str(options.database or read_settings().database)


@contextmanager
def _opened(database: str, *, upgrade: bool = False, new: bool = False) -> Iterator[Storage]:
    """Open a database; a SQLite file that is not there is made only if it may be `new`."""
    url = url_of(database)
    if url.get_backend_name() == "sqlite" and not new and not Path(str(url.database)).is_file():
        raise DatabaseUnusable(name_of(url), "there is no such file")
    storage = Storage(database, upgrade=upgrade)
    try:
        yield storage
    finally:
        storage.close()


def _write_new(path: Path, text: str) -> None:
    """Write a file that was not there, whole or not at all."""
    if path.exists():
        raise CannotWrite(path, "there is a file of this name already")
    unfinished = path.with_name(f"{path.name}.{secrets.token_hex(4)}.unfinished")
    try:
        with unfinished.open("x", encoding="utf-8", newline="") as file:
            unfinished.chmod(0o600)
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        unfinished.rename(path)
    except OSError as error:
        raise CannotWrite(path, error.strerror or str(error)) from error
    finally:
        unfinished.unlink(missing_ok=True)


def _listed(counts: Mapping[str, int]) -> str:
    """Return what whoever reads it thinks in.

    Examples
    --------
    >>> _listed({"clubs": 1, "revisions": 7, "scenarios": 2, "plans": 0, "jobs": 3})
    '1 club, 2 scenarios, 0 plans, 3 jobs'
    """
    told = [(counts[noun], noun) for noun in ("clubs", "scenarios", "plans", "jobs")]
    return ", ".join(f"{rows} {noun.removesuffix('s') if rows == 1 else noun}" for rows, noun in told)
