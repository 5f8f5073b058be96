"""The README's requests are sent as they stand there, and answered."""

from __future__ import annotations

import json
import re
import shlex
import shutil
import subprocess
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.seal import SEAL_KEY, made_seal_key
from api.settings import Settings
from api.shapes.samples import CALENDAR_ICS
from api.storage import Storage

from .journeys import Answer, Service
from .stand_ins import StandInPlanner, jobs_here
from .test_parts import real_reader

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")


@pytest.fixture
def reader(tmp_path: Path) -> Iterator[Service]:
    settings = Settings(database=tmp_path / "kept.sqlite3", keys="none", requests_per_minute=0, plan_years=0)
    app = create_app(settings, partial(real_reader, StandInPlanner(tmp_path / "planner")), jobs_here)
    with TestClient(app, base_url="http://127.0.0.1:8075", raise_server_exceptions=False) as client:
        yield Service(client)


def requests() -> list[list[str]]:
    """Return the words of every request of the README, in order."""
    blocks = re.findall(r"```sh\n(.*?)```", README, flags=re.DOTALL)
    text = "\n".join(blocks).replace("\\\n", " ")
    lines = (shlex.split(line, comments=True) for line in text.splitlines())
    return [words for words in lines if words and words[0] in {"ask", "say"}]


def sent(service: Service, words: list[str], ids: dict[str, str]) -> Answer:
    """Do as curl does with these words."""
    method, options, fields, files = "GET", dict[str, Any](), dict[str, str](), dict[str, Any]()
    path = ""
    rest = iter(words[1:])
    for word in rest:
        if word == "-X":
            method = next(rest)
        elif word == "-d":
            method = "POST" if method == "GET" else method
            options["json"] = json.loads(_named(next(rest), ids))
        elif word == "-H":
            name, _, value = next(rest).partition(": ")
            options.setdefault("headers", {})[name] = value
        elif word == "--data-binary":
            assert next(rest) == "@diary.ics"
            options["content"] = CALENDAR_ICS.encode()
        elif word == "-F":
            method, (name, _, value) = "POST", next(rest).partition("=")
            if value.startswith("@"):
                files[name] = (value[1:], (ROOT / value[1:]).read_bytes())
            else:
                fields[name] = value
        elif word != "-O":
            path = word.removeprefix("$HERE")
    path = _named(path, ids)
    if files:
        options |= {"data": fields, "files": files}
    return service.ask(method, path, **options)


def _named(text: str, ids: dict[str, str]) -> str:
    """Put ids for the words that stand for them."""
    for name, one in ids.items():
        text = re.sub(rf"\b{name}\b", one, text)
    return text


def test_every_request_of_the_readme_is_answered(reader: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(SEAL_KEY, made_seal_key())
    ids = {"CLUB": reader.club.rpartition("/")[2]}
    count = 0
    for words in requests():
        answer = sent(reader, words, ids)
        assert answer.status_code in {200, 201, 202}, (words, answer.text)
        count += 1
        shown = answer.json() if "json" in answer.headers["content-type"] else {}
        if "wish" in shown and "SCENARIO" in ids:
            ended = reader.ended(f"/jobs/{shown['id']}")
            assert ended["state"] == "done", ended
            ids["JOB"] = shown["id"]
            if "plan" in ended["links"]:
                ids["NEWER" if "PLAN" in ids else "PLAN"] = ended["links"]["plan"].rpartition("/")[2]
        elif "season_start" in shown:
            ids["SCENARIO"] = shown["id"]
        elif words[-1].endswith(("/feeds", "/collections")):
            ids[words[-1].rpartition("/")[2].removesuffix("s").upper()] = shown["id"]
        elif "settings" in shown:
            ids["MEMBER"] = shown["id"]
        elif "events" in shown:
            ids["ENGAGEMENT"] = shown["id"]
    assert count == 21
    nouns = {"CLUB", "SCENARIO", "JOB", "PLAN", "NEWER", "FEED", "COLLECTION", "MEMBER", "ENGAGEMENT"}
    assert set(ids) == nouns


def test_a_backup_put_back_as_the_readme_says_is_all_there_is(tmp_path: Path) -> None:
    open_still, killed = tmp_path / "running", tmp_path / "killed"
    open_still.mkdir()
    storage = Storage(open_still / "duskwright.sqlite3")
    storage.clubs.add("backed up")
    storage.back_up(tmp_path / "club-2027-01-08.sqlite3")
    for number in range(30):
        storage.clubs.add(f"later {number}")
    shutil.copytree(open_still, killed)  # as a kill leaves it, with what has not come into the file yet
    storage.close()
    shutil.copy(tmp_path / "club-2027-01-08.sqlite3", killed)
    assert (killed / "duskwright.sqlite3-wal").stat().st_size
    (said,) = re.findall(r"To go back.*?```text\n(.*?)```", README, flags=re.DOTALL)
    subprocess.run(["sh", "-ec", said], cwd=killed, check=True)
    back = Storage(killed / "duskwright.sqlite3")
    assert [club.name for club in back.clubs.page(None, 99).items] == ["backed up"]
    back.close()


def test_every_address_of_the_readme_is_one_of_the_service(reader: Service) -> None:
    described = set(reader.get("/openapi.json").json()["paths"])
    known = {re.sub(r"\{[a-z]+\}", "ID", path) for path in described}
    table = README.partition("| what | where |")[2].partition("\n\n")[0]
    told = [path.partition("?")[0] for path in re.findall(r"`(/[^`]*)`", table)]
    whole = [
        re.sub(r"CLUB|SCENARIO|PLAN|JOB|FEED|COLLECTION|MEMBER|ENGAGEMENT", "ID", path)
        for path in told
        if path.count("/") > 1
    ]
    assert len(whole) >= 15
    assert set(whole) <= known
