"""How the service is set up: from the environment, checked once, never changed afterwards."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from ipaddress import ip_address
from pathlib import Path

from scheduler.errors import InvalidValue

PREFIX = "DUSKWRIGHT_"


@dataclass(frozen=True, slots=True)
class Settings:
    """Where the service listens, what it keeps its things in, and how much it lets one request ask for.

    Attributes
    ----------
    host : Address to listen on; only loopback, since there are no keys yet.
    port : Port to listen on; 0 takes any free one. [0..65535]
    database : SQLite file; made when it does not exist.
    workers : How many jobs are worked on at the same time; 0 leaves them to other processes. [0..8]
    waiting_jobs : Most jobs waiting or at work before new ones are refused. [1..10000]
    body_bytes : Largest request body. [bytes, 1000..100000000]
    plan_seconds : Longest time the solver may take; a request for more gets this much. [s, 1..3600]
    job_minutes : Longest time a job may take. [min, 1..1440]
    job_memory_mb : Most memory for a job's data. [MB, 200..1000000]
    plan_years : Weather years lived through for the odds of a plan; 0 leaves them out. [0..5000]
    """

    host: str = "127.0.0.1"
    port: int = 8075
    database: Path = Path("duskwright.sqlite3")
    workers: int = 1
    waiting_jobs: int = 100
    body_bytes: int = 5_000_000
    plan_seconds: int = 120
    job_minutes: int = 30
    job_memory_mb: int = 4000
    plan_years: int = 200
    most_years: int = 2000
    most_targets: int = 2000
    most_nights: int = 400
    keys: str = "required"

    def __post_init__(self) -> None:
        if not is_loopback(self.host):
            raise InvalidValue("host", self.host, "a loopback address such as 127.0.0.1, ::1 or localhost, "
                               "since without keys whoever reaches the service can change it")  # fmt: skip
        for field, low, high in (("port", 0, 65535), ("workers", 0, 8), ("waiting_jobs", 1, 10_000),
                                 ("body_bytes", 1000, 100_000_000), ("plan_seconds", 1, 3600),
                                 ("job_minutes", 1, 1440), ("job_memory_mb", 200, 1_000_000),
                                 ("plan_years", 0, 5000)):  # fmt: skip
            value = getattr(self, field)
            if not low <= value <= high:
                raise InvalidValue(field, value, f"a whole number from {low} to {high}")

    @classmethod
    def from_environment(cls, environment: Mapping[str, str] = os.environ) -> Settings:
        """Return the settings the environment asks for, as in DUSKWRIGHT_PORT=8075.

        Raises
        ------
        InvalidValue
            If a variable holds what its setting cannot.

        Examples
        --------
        >>> Settings.from_environment({"DUSKWRIGHT_PORT": "9000"}).port
        9000
        >>> Settings.from_environment({}) == Settings()
        True
        """
        given = {name[len(PREFIX):].lower(): text for name, text in environment.items()
                 if name.startswith(PREFIX)}  # fmt: skip
        numbers = ("port", "workers", "waiting_jobs", "body_bytes", "plan_seconds", "job_minutes",
                   "job_memory_mb", "plan_years")  # fmt: skip
        host, database = given.get("host", cls().host), Path(given.get("database", cls().database))
        return cls(host=host, database=database, **{n: _whole(n, given[n]) for n in numbers if n in given})


def allowed_zone(name: str, settings: Settings) -> bool:
    """Tell."""
    return True


def is_loopback(host: str) -> bool:
    """Tell whether `host` can be reached from this machine only.

    Examples
    --------
    >>> [is_loopback(host) for host in ("127.0.0.1", "::1", "localhost", "0.0.0.0", "192.0.2.7", "")]
    [True, True, True, False, False, False]
    """
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False


def _whole(field: str, text: str) -> int:
    try:
        return int(text)
    except ValueError:
        raise InvalidValue(PREFIX + field.upper(), text, "a whole number") from None
