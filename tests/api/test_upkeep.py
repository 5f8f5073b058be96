"""`duskwright backup`, `database` and `club`, through the command line as it is typed."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import make_url

from api.auth import bearer_of
from api.seal import SEAL_KEY, Seal
from api.storage import NewScenario, Role, ScenarioFiles, Storage, copying
from scheduler.cli import run

from .databases import KINDS, SERVER, Where, fresh_database
from .storage.kept import fill
from .storage.old_format import write_old
from .storage.test_formats import at_the_first_format
from .storage.test_kept import counts, everything
from .test_real_scheduler import TOML, WISH_LIST

Captured = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def _no_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(copying, "WATCH_S", 0.0)


def typed(words: list[object], said: Captured) -> tuple[int, str, str]:
    """Return the exit code of a command line, and what it printed on both streams."""
    code = run([str(word) for word in words])
    out, err = said.readouterr()
    return code, out, err


def kept_in(database: Where) -> tuple[str, list[object]]:
    storage = Storage(database)
    club = fill(storage).club
    kept = everything(storage, club)
    storage.close()
    return club, kept


def found_in(database: Where, club: str) -> list[object]:
    storage = Storage(database)
    found = everything(storage, club)
    storage.close()
    return found


def test_a_backup_is_written_and_can_be_served_from(
    database: Where, tmp_path: Path, capsys: Captured
) -> None:
    club, kept = kept_in(database)
    code, out, err = typed(["backup", tmp_path / "copy.sqlite3", "--database", database], capsys)
    assert (code, err) == (0, "")
    assert out == f"Written: {tmp_path / 'copy.sqlite3'} with 1 club, 2 scenarios, 2 plans, 6 jobs\n"
    assert found_in(tmp_path / "copy.sqlite3", club) == kept
    code, out, err = typed(["backup", tmp_path / "copy.sqlite3", "--database", database], capsys)
    assert (code, out) == (1, "")
    assert (
        err
        == f"duskwright: cannot write to {tmp_path / 'copy.sqlite3'}: there is a file of this name already\n"
    )


def test_the_database_of_the_settings_is_taken_where_none_is_named(
    database: Where, tmp_path: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    club, kept = kept_in(database)
    monkeypatch.setenv("DUSKWRIGHT_DATABASE", str(database))
    assert typed(["backup", tmp_path / "copy.sqlite3"], capsys)[0] == 0
    assert found_in(tmp_path / "copy.sqlite3", club) == kept


@pytest.mark.parametrize(
    "words",
    [
        ["backup", "copy.sqlite3", "--database", "typo.sqlite3"],
        ["database", "upgrade", "--database", "typo.sqlite3"],
        ["database", "move", "typo.sqlite3", "new.sqlite3"],
        ["club", "export", "0" * 20, "club.json", "--database", "typo.sqlite3"],
    ],
    ids=" ".join,
)
def test_a_database_that_is_not_there_is_not_made(
    words: list[object], tmp_path: Path, capsys: Captured, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, err = typed(words, capsys)
    assert (code, out) == (1, "")
    assert err == "duskwright: cannot use the database typo.sqlite3: there is no such file\n"
    assert list(tmp_path.iterdir()) == []


def test_an_old_format_is_brought_up_to_date(tmp_path: Path, capsys: Captured) -> None:
    write_old(tmp_path / "old.sqlite3")
    code, out, _ = typed(["database", "upgrade", "--database", tmp_path / "old.sqlite3"], capsys)
    assert (code, out) == (0, f"{tmp_path / 'old.sqlite3'} has the newest format\n")
    with closing(sqlite3.connect(tmp_path / "old.sqlite3")) as file:
        assert file.execute("SELECT name FROM clubs").fetchall() == [("Home",)]


def test_postgresql_of_an_old_format_is_refused_until_it_is_upgraded(
    database: Where, tmp_path: Path, capsys: Captured
) -> None:
    if isinstance(database, Path):
        return
    at_the_first_format(database)
    code, _, err = typed(["backup", tmp_path / "copy.sqlite3", "--database", database], capsys)
    assert code == 1
    assert '"duskwright database upgrade"' in err
    password = str(make_url(database).password or "a server that asks for none")
    assert password not in err
    code, out, _ = typed(["database", "upgrade", "--database", database], capsys)
    assert code == 0
    assert password not in out
    assert typed(["backup", tmp_path / "copy.sqlite3", "--database", database], capsys)[0] == 0


@pytest.mark.parametrize("kind", KINDS)
def test_a_database_is_moved_into_an_empty_one_and_no_other(
    database: Where, kind: str, tmp_path: Path, capsys: Captured
) -> None:
    club, kept = kept_in(database)
    (tmp_path / "there").mkdir()
    with fresh_database(kind, tmp_path / "there") as there:
        code, out, err = typed(["database", "move", database, there], capsys)
        assert (code, err) == (0, "")
        assert out.endswith(": 1 club, 2 scenarios, 2 plans, 6 jobs\n")
        assert found_in(there, club) == kept
        code, out, err = typed(["database", "move", database, there], capsys)
        assert (code, out) == (1, "")
        assert "it is not empty: 1 clubs" in err
        assert found_in(there, club) == kept


def planned_club_in(database: Where, wish_list: bytes = WISH_LIST) -> str:
    """Keep a club with one scenario that can be planned, and return its id."""
    storage = Storage(database)
    club = storage.clubs.add("Larkmoor").id
    files = ScenarioFiles(TOML, wish_list)
    storage.scenarios.add(club, NewScenario("fenwold", "", 4, date(2027, 2, 20), 21, files))
    storage.close()
    return club


def test_a_club_that_cannot_be_planned_is_not_taken_in(
    database: Where, tmp_path: Path, capsys: Captured
) -> None:
    club = planned_club_in(database, b"target,priority\r\nNebula of Nowhere,9\r\n")
    file = tmp_path / "club.json"
    assert typed(["club", "export", club, file, "--database", database], capsys)[0] == 0
    code, out, err = typed(["club", "import", file, "--database", tmp_path / "new.sqlite3"], capsys)
    assert (code, out) == (1, "")
    assert "scenarios/0/wish-list.csv, row 2, priority: read '9'" in err
    storage = Storage(tmp_path / "new.sqlite3")
    assert storage.clubs.page(None, 9).items == ()
    storage.close()


def test_a_club_goes_out_and_comes_in_again(database: Where, tmp_path: Path, capsys: Captured) -> None:
    club = planned_club_in(database)
    file = tmp_path / "club.json"
    code, out, err = typed(["club", "export", club, file, "--database", database], capsys)
    assert (code, err) == (0, "")
    assert out == f"Written: {file}; its keys and unfinished jobs stayed behind\n"
    assert json.loads(file.read_bytes())["club"]["id"] == club
    assert file.stat().st_mode & 0o777 == 0o600
    code, out, err = typed(["club", "import", file, "--database", database], capsys)
    assert (code, out, err) == (1, "", f"duskwright: there is a club '{club}' already\n")
    storage = Storage(database)
    storage.clubs.delete(club, None)
    storage.close()
    code, out, err = typed(["club", "import", file, "--database", database], capsys)
    assert (code, out, err) == (0, f"Kept: Larkmoor, {club}; it has no keys yet\n", "")
    again = tmp_path / "again.json"
    assert typed(["club", "export", club, again, "--database", database], capsys)[0] == 0
    assert again.read_bytes() == file.read_bytes()


def test_a_file_that_is_there_is_not_overwritten(tmp_path: Path, capsys: Captured) -> None:
    club, _ = kept_in(tmp_path / "kept.sqlite3")
    (tmp_path / "club.json").write_text("mine", encoding="utf-8")
    words = ["club", "export", club, tmp_path / "club.json", "--database", tmp_path / "kept.sqlite3"]
    code, _, err = typed([*words], capsys)
    assert (code, "there is a file of this name already" in err) == (1, True)
    assert (tmp_path / "club.json").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"{}", "format: expected a member of this name"),
        (b"\xff\xfe", "expected UTF-8 text"),
        (None, "club.json: expected a file that can be read (No such file or directory)"),
    ],
)
def test_a_file_that_cannot_be_taken_in_is_said_so_in_a_line(
    tmp_path: Path, capsys: Captured, content: bytes | None, told: str
) -> None:
    if content is not None:
        (tmp_path / "club.json").write_bytes(content)
    words = ["club", "import", tmp_path / "club.json", "--database", tmp_path / "kept.sqlite3"]
    code, out, err = typed([*words], capsys)
    assert (code, out) == (1, "")
    assert told in err
    assert err.count("\n") == 1
    if (tmp_path / "kept.sqlite3").exists():
        storage = Storage(tmp_path / "kept.sqlite3")
        assert set(counts(storage).values()) == {0}
        storage.close()


def test_a_club_that_is_not_there_is_said_so(database: Where, tmp_path: Path, capsys: Captured) -> None:
    kept_in(database)
    code, _, err = typed(["club", "export", "0" * 20, tmp_path / "x.json", "--database", database], capsys)
    assert (code, err) == (1, f"duskwright: there is no club '{'0' * 20}'\n")
    assert not (tmp_path / "x.json").exists()


@pytest.mark.parametrize(
    "words", [["backup"], ["database"], ["club"], ["club", "export"], ["database", "move", "x"]]
)
def test_words_that_lack_are_told(words: list[str], capsys: Captured) -> None:
    with pytest.raises(SystemExit) as ended:
        run(words)
    assert ended.value.code == 2
    assert f"usage: duskwright {words[0]}" in capsys.readouterr().err


def test_the_server_for_tests_is_no_setting() -> None:
    assert SERVER.startswith("DUSKWRIGHT_TEST_")


def test_a_fresh_key_for_the_seal_is_told(capsys: Captured) -> None:
    keys = [typed(["club", "seal-key"], capsys) for _ in range(2)]
    assert [(code, err) for code, _, err in keys] == [(0, ""), (0, "")]
    assert keys[0] != keys[1]
    seal = Seal({SEAL_KEY: keys[0][1].strip()})
    assert seal.opened(seal.sealed("a password")) == "a password"


def test_clubs_are_listed_and_a_lost_key_is_made_anew(database: Where, capsys: Captured) -> None:
    club, _ = kept_in(database)
    code, out, _ = typed(["club", "list", "--database", database], capsys)
    assert code == 0
    assert out.startswith(f"{club}  ")
    for words, role, of in ((["club", "key"], Role.OWNER, None),
                            (["club", "key", club, "--role", "reader"], Role.READER, club)):  # fmt: skip
        code, out, _ = typed([*words, "--database", database], capsys)
        assert code == 0
        storage = Storage(database)
        bearer, *_ = bearer_of(storage, out.strip())
        storage.close()
        assert (bearer.role, bearer.club) == (role, of)
    code, out, err = typed(["club", "key", "0" * 20, "--database", database], capsys)
    assert (code, out) == (1, "")
    assert "there is no club" in err
