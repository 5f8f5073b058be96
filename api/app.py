"""The service: start reading here. Nothing is made at import; `create_app` makes an app, `serve` runs one."""

from __future__ import annotations

import asyncio
import errno
import gc
import socket
import sys
from collections.abc import AsyncIterator, Callable, Iterator, Mapping
from contextlib import asynccontextmanager, suppress
from importlib.metadata import PackageNotFoundError, version
from typing import Any

import uvicorn
from fastapi import FastAPI
from fastapi.routing import APIRoute
from starlette.types import ASGIApp

from scheduler.errors import InvalidValue

from .asking import Asking
from .auth import first_key, role_of
from .calendar_reading import LIMITS as CALENDAR_LIMITS
from .calendar_reading import CalendarReading
from .deeds import deeds_behind
from .deps import Services
from .described import completed
from .door import scheduler_door
from .engaged import calendar_deeds
from .feeding import Feeder
from .fetching import Fetching
from .guards import Guards
from .hands import Limits as TaskLimits
from .hands import ProcessHands
from .limits import Limits
from .logs import set_up_logging
from .metrics import Metrics
from .pages import PAGES
from .patience import SERVER
from .ports import Door, Fetch, Jobs
from .problems import answer_with_problems
from .recent import Again, Recent
from .routes import ROUTERS
from .seal import Seal
from .settings import Settings
from .shapes import ANY_REFUSAL
from .shelf import Shelf
from .skydates import SkyPages
from .sources import read_settings
from .storage import Storage
from .watch import Watch
from .worker import jobs_of

FIRST_CLUB = "Home"
SWITCH_S = 0.0003
"""How long a thread may go on while others wait: little beside the time an answer takes. [s]"""
ABOUT = ("Plans a year of visual observing: keep a scenario, start a plan, follow the job, read the plan. "
         "Every refusal is a problem after RFC 9457.")  # fmt: skip


def create_app(
    settings: Settings | None = None,
    door: Callable[[], Door] = scheduler_door,
    jobs: Callable[[Settings, Storage, Callable[[], Door]], Jobs] = jobs_of,
    fetch: Callable[[], Fetch] = Fetching,
    seal: Callable[[], Seal] = Seal,
) -> FastAPI:
    """Return the app; it opens its database when it starts and closes it when it stops.

    Parameters
    ----------
    settings : How it is set up; from the environment where None.
    door : Makes the scheduler's door; can be pickled.
    jobs : Makes what works on jobs.
    fetch : Makes what fetches members' calendars from elsewhere.
    seal : Gives what seals secrets of others, whenever some are to be sealed or opened.
    """
    chosen = settings or read_settings()
    app = _DescribedApp(
        title="Duskwright", version=_version(), description=ABOUT,
        lifespan=_living(chosen, door, jobs, fetch, seal), docs_url=None, redoc_url=None,
        redirect_slashes=False, responses=ANY_REFUSAL, generate_unique_id_function=_operation_name,
        # No outbound connection, not even one the environment asks the web framework for.
        telemetry={"tracing": False, "metrics": False, "logs": False, "auto_configure": False},
    )  # fmt: skip
    app.state.roles = _roles()
    app.state.metrics, app.state.recent = Metrics(app.version), Recent()
    app.add_middleware(Again, recent=app.state.recent)
    app.add_middleware(Guards, hosts=_hosts(chosen), body_bytes=chosen.body_bytes,
                       limits=Limits(chosen.requests_per_minute), origin=chosen.origin)  # fmt: skip
    answer_with_problems(app, [*ROUTERS, *PAGES])
    for router in (*ROUTERS, *PAGES):
        app.include_router(router)
    return app


def serve(
    settings: Settings,
    *,
    door: Callable[[], Door] = scheduler_door,
    announce: Callable[[str], None] = print,
) -> None:
    """Run the service until it is asked to stop, then end its jobs and close its database.

    Parameters
    ----------
    settings : Where to listen, what to keep things in, how much to allow.
    door : Makes the scheduler's door; can be pickled.
    announce : Told the address once the service listens there.

    Raises
    ------
    InvalidValue
        If the host is not this machine's, or the port is taken.
    DatabaseUnusable
        If the file is no database this version reads.
    """
    # Listen first: a second start on a taken port must not touch the jobs of the service running there.
    with _listening(settings) as listener:
        app = create_app(settings, door)
        token = _opened(settings)
        set_up_logging(settings.log)
        server = _Server(uvicorn.Config(
            app, lifespan="on", log_config=None, access_log=False, server_header=False,
            proxy_headers=False, **SERVER,
        ))  # fmt: skip
        shown = f"[{settings.host}]" if ":" in settings.host else settings.host
        announce(f"Duskwright listens at http://{shown}:{listener.getsockname()[1]} (its addresses: /docs)")
        if token is not None:
            announce(f"The owner's key, told this once only: {token}")
        with suppress(KeyboardInterrupt):  # raised again by the server once everything is closed
            server.run(sockets=[listener])


class _Server(uvicorn.Server):
    """Answers promptly although other threads of the process are at work."""

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start to listen, and let nothing that is there by now be searched for garbage again."""
        await super().startup(sockets)
        gc.collect()
        gc.freeze()
        gc.enable()
        sys.setswitchinterval(SWITCH_S)


def _opened(settings: Settings) -> str | None:
    """Open the database before anything is served; return the first owner's key where there is none yet."""
    storage = Storage(settings.database)
    try:
        if not storage.clubs.page(None, 1).items:
            storage.clubs.add(FIRST_CLUB)
        return first_key(storage) if settings.keys == "required" else None
    finally:
        storage.close()


def _listening(settings: Settings) -> socket.socket:
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    listener = socket.socket(family)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((settings.host, settings.port))
        listener.listen(128)
    except OSError as error:
        listener.close()
        if isinstance(error, socket.gaierror) or error.errno == errno.EADDRNOTAVAIL:
            raise InvalidValue(
                "host", settings.host, "an address of this machine, as in 127.0.0.1"
            ) from error
        raise InvalidValue(
            "port", settings.port, f"a port this machine lets us listen on ({error.strerror})"
        ) from error
    return listener


def _living(
    settings: Settings,
    door: Callable[[], Door],
    make_jobs: Callable[[Settings, Storage, Callable[[], Door]], Jobs],
    fetch: Callable[[], Fetch],
    seal: Callable[[], Seal],
) -> Callable[[FastAPI], Any]:
    @asynccontextmanager
    async def living(app: FastAPI) -> AsyncIterator[None]:
        storage = Storage(settings.database)
        try:
            # Both take their time, and the workflow library wants no event loop around it.
            jobs = await asyncio.to_thread(make_jobs, settings, storage, door)
            asking = Asking(ProcessHands(deeds_behind(door), 1, TaskLimits(1, settings.job_memory_mb)))
            reading = CalendarReading(ProcessHands(calendar_deeds, 2, CALENDAR_LIMITS))
            opened = door()
            app.state.services = Services(
                settings, storage, jobs, opened, asking, app.state.recent,
                Feeder(storage, SkyPages(storage, asking.ask)), Shelf(storage, opened), seal, fetch(),
                reading,
            )  # fmt: skip
            app.state.metrics.count_jobs(storage.jobs.tallies)
            try:
                yield
            finally:
                asking.close()
                reading.close()
                await asyncio.to_thread(jobs.close)
        finally:
            storage.close()

    return living


class _DescribedApp(FastAPI):
    """Describes its problems with the media type they really have; watched around all it answers."""

    def build_middleware_stack(self) -> ASGIApp:
        """Return what every request goes through, from the outside in."""
        return Watch(super().build_middleware_stack(), self.state.metrics, fixed={str(self.openapi_url)})

    def openapi(self) -> dict[str, Any]:
        """Return the OpenAPI description."""
        if self.openapi_schema is None:
            self.openapi_schema = completed(super().openapi())
            for operation in _operations_of(self.openapi_schema):
                if (role := self.state.roles.get(operation["operationId"])) is not None:
                    operation["x-role"] = role
        return self.openapi_schema


def _operations_of(described: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    return (operation for methods in described["paths"].values() for operation in methods.values())


def _roles() -> dict[str, str]:
    """Return what role each operation needs, by its name."""
    routes = (route for router in ROUTERS for route in router.routes if isinstance(route, APIRoute))
    return {route.name: role for route in routes if (role := role_of(route)) is not None}


def _operation_name(route: APIRoute) -> str:
    return route.name


def _hosts(settings: Settings) -> frozenset[str]:
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    return frozenset({"localhost", "127.0.0.1", "[::1]", host.lower(), *settings.hosts})


def _version() -> str:
    try:
        return version("duskwright")
    except PackageNotFoundError:
        return "0"
