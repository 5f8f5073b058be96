"""Slow clients, over real sockets but with a short patience; nothing here depends on how fast it goes."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any, TypeAlias

import pytest
import uvicorn

from api.patience import HEAD_BYTES, KEEP_ALIVE_S, MOST_CONNECTIONS, SERVER, PatientProtocol

Wire: TypeAlias = tuple[asyncio.StreamReader, asyncio.StreamWriter]
HEAD = b"GET / HTTP/1.1\r\nHost: x\r\n"


class Impatient(PatientProtocol):
    head_s = 0.5


async def _app(scope: Any, receive: Any, send: Any) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})
    await send({"type": "http.response.body", "body": b"ok"})


def with_server(dialogue: Callable[[Callable[[], Awaitable[Wire]]], Awaitable[None]], **options: Any) -> None:
    async def run() -> None:
        chosen = {
            **SERVER,
            "http": Impatient,
            "log_config": None,
            "lifespan": "off",
            "access_log": False,
            **options,
        }
        config = uvicorn.Config(_app, **chosen)
        config.load()
        protocol: Any = config.http_protocol_class
        state = uvicorn.server.ServerState()
        loop = asyncio.get_running_loop()
        server = await loop.create_server(
            lambda: protocol(config=config, server_state=state, app_state={}),
            "127.0.0.1",
            0,
        )
        port = server.sockets[0].getsockname()[1]
        try:
            await asyncio.wait_for(dialogue(lambda: asyncio.open_connection("127.0.0.1", port)), 20)
        finally:
            server.close()

    asyncio.run(run())


@pytest.mark.parametrize("sent", [b"", b"G", HEAD])
def test_a_head_that_does_not_come_closes_the_connection(sent: bytes) -> None:
    async def dialogue(connect: Callable[[], Awaitable[Wire]]) -> None:
        reader, writer = await connect()
        writer.write(sent)
        assert await reader.read() == b""
        writer.close()

    with_server(dialogue)


def test_nor_does_one_that_drips_keep_it_open() -> None:
    async def dialogue(connect: Callable[[], Awaitable[Wire]]) -> None:
        reader, writer = await connect()
        writer.write(HEAD)
        closed = asyncio.ensure_future(reader.read())
        while not closed.done():
            writer.write(b"X: y\r\n")
            await asyncio.sleep(0.02)
        assert closed.result() == b""
        writer.close()

    with_server(dialogue, h11_max_incomplete_event_size=10_000_000)


def test_a_second_head_that_does_not_come_closes_it_too() -> None:
    async def dialogue(connect: Callable[[], Awaitable[Wire]]) -> None:
        reader, writer = await connect()
        writer.write(HEAD + b"\r\n")
        assert (await reader.readuntil(b"ok")).startswith(b"HTTP/1.1 200 ")
        writer.write(HEAD)
        assert await reader.read() == b""
        writer.close()

    with_server(dialogue, timeout_keep_alive=3600)


def test_one_who_asks_in_time_is_answered_again_and_again() -> None:
    async def dialogue(connect: Callable[[], Awaitable[Wire]]) -> None:
        reader, writer = await connect()
        for _ in range(20):
            writer.write(HEAD + b"\r\n")
            assert (await reader.readuntil(b"ok")).startswith(b"HTTP/1.1 200 ")
            await asyncio.sleep(0.03)
        writer.close()

    with_server(dialogue)


LONG = b"y" * HEAD_BYTES


async def refused(reader: asyncio.StreamReader) -> bool:
    """Tell whether a request was refused; who goes on sending may find it cut instead."""
    try:
        return (await reader.read()).startswith(b"HTTP/1.1 400 ")
    except ConnectionResetError:
        return True


@pytest.mark.parametrize(
    "head",
    [HEAD + b"X: " + LONG, HEAD + b"X: " + LONG + b"\r\n\r\n", HEAD + LONG + b": x\r\n\r\n",
     b"GET /" + LONG, b"GET /" + LONG + b" HTTP/1.1\r\nHost: x\r\n\r\n",
     HEAD + b"X: yy\r\n" * 4096 + b"\r\n"],
    ids=["an open line", "a whole line", "a name", "an open address", "an address", "many lines"],
)  # fmt: skip
def test_a_head_too_large_is_refused(head: bytes) -> None:
    async def dialogue(connect: Callable[[], Awaitable[Wire]]) -> None:
        reader, writer = await connect()
        writer.write(head)
        assert await refused(reader)
        writer.close()

    with_server(dialogue)


def test_a_head_that_drips_until_it_is_too_large_is_refused_too() -> None:
    async def dialogue(connect: Callable[[], Awaitable[Wire]]) -> None:
        reader, writer = await connect()
        writer.write(HEAD)
        for _ in range(20):
            writer.write(b"X: " + b"y" * (HEAD_BYTES // 16) + b"\r\n")
            await asyncio.sleep(0)
        assert await refused(reader)
        writer.close()

    with_server(dialogue)


def test_heads_are_counted_one_by_one_and_bodies_not_at_all() -> None:
    async def dialogue(connect: Callable[[], Awaitable[Wire]]) -> None:
        reader, writer = await connect()
        for _ in range(3):
            writer.write(HEAD + b"X: " + b"y" * (HEAD_BYTES // 2) + b"\r\n\r\n")
            assert (await reader.readuntil(b"ok")).startswith(b"HTTP/1.1 200 ")
        body = b"z" * (3 * HEAD_BYTES)
        writer.write(b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: %d\r\n\r\n" % len(body) + body)
        assert (await reader.readuntil(b"ok")).startswith(b"HTTP/1.1 200 ")
        writer.write(HEAD + b"\r\n")
        assert (await reader.readuntil(b"ok")).startswith(b"HTTP/1.1 200 ")
        writer.close()

    with_server(dialogue)


def test_too_many_connections_at_once_are_told_so() -> None:
    async def dialogue(connect: Callable[[], Awaitable[Wire]]) -> None:
        _, first = await connect()
        reader, second = await connect()
        second.write(HEAD + b"\r\n")
        assert (await reader.readuntil(b"\r\n")).startswith(b"HTTP/1.1 503 ")
        first.close()
        second.close()

    with_server(dialogue, limit_concurrency=2)


def test_the_server_is_told_all_of_it() -> None:
    config = uvicorn.Config(_app, log_config=None, **SERVER)
    config.load()
    assert config.http_protocol_class is PatientProtocol
    assert (config.limit_concurrency, config.timeout_keep_alive) == (MOST_CONNECTIONS, KEEP_ALIVE_S)
    assert config.ws_protocol_class is None
