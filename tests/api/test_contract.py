"""All that the description allows to be asked, and more; a larger run: `tests.benchmarks.contract`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from .contract import contracted, tried

SEED = 20270220
pytestmark = pytest.mark.filterwarnings(
    "ignore:Do not use the `random` module"
)  # Schemathesis does so itself


def test_every_answer_is_as_described(tmp_path: Path) -> None:
    with contracted(tmp_path / "kept.sqlite3", tmp_path) as (app, token):
        told = tried(app, token, cases=200, seed=SEED)
    assert told.unexplained == [], "\n".join(told.unexplained)
    assert told.cases >= 1000
    assert set(told.by_phase) == {"examples", "coverage", "fuzzing", "stateful"}
    assert told.statuses[401] < 0.1 * told.cases, "the key counts no more"
    got_through = {name for name, statuses in told.by_operation.items() if min(statuses) < 400}
    ended_by_then = {"POST /jobs/{job}/cancel"}  # the stand-in's jobs are done at once
    assert set(told.by_operation) - got_through - ended_by_then == set()


def teapot(message: Message, body: bytes) -> Message:
    return {**message, "status": 418}


def failure(message: Message, body: bytes) -> Message:
    strange = not body.isascii() or b"\\u" in body
    return {**message, "status": 500} if strange and message["status"] == 201 else message


def unnamed(message: Message, body: bytes) -> Message:
    return {**message, "body": message["body"].replace(b'"name":', b'"nome":')}


@pytest.mark.parametrize(
    ("spoil", "on", "caught"),
    [
        (teapot, "http.response.start", "status_code_conformance: Undocumented status code"),
        (failure, "http.response.start", "not_a_server_error: Server error"),
        (unnamed, "http.response.body", "response_schema_conformance: Response violates schema"),
    ],
)
def test_it_bites(tmp_path: Path, spoil: Callable[[Message, bytes], Message], on: str, caught: str) -> None:
    def spoilt(app: ASGIApp) -> Any:
        async def answer(scope: Scope, receive: Receive, send: Send) -> None:
            if scope["type"] != "http":
                return  # the app behind has been started already
            body = b""

            async def listen() -> Message:
                nonlocal body
                message = await receive()
                body += message.get("body", b"")
                return message

            async def tell(message: Message) -> None:
                hit = message["type"] == on and scope["path"] == "/clubs" and scope["method"] == "POST"
                await send(spoil(message, body) if hit else message)

            await app(scope, listen, tell)

        return answer

    with contracted(tmp_path / "kept.sqlite3", tmp_path) as (app, token):
        told = tried(app, token, cases=3000, seed=SEED, only="POST /clubs", spoilt=spoilt)
    assert any(caught in fault for fault in told.unexplained), told.unexplained
