"""What one piece of work may use."""

from __future__ import annotations

import resource
from dataclasses import dataclass

_MEGABYTE = 1_000_000


@dataclass(frozen=True, slots=True)
class Limits:
    """How long a task may take, and how much memory its process may have.

    Attributes
    ----------
    minutes : Longest time by the clock. [min]
    memory_mb : Most memory for data of the child's own. [MB]
    """

    minutes: float = 30.0
    memory_mb: int = 4000


def limit_memory(megabytes: int) -> None:
    """Let this process have no more than so much data of its own; what asks for more gets `MemoryError`.

    Libraries and mapped files do not count, nor does address space that is only reserved, as numerical
    libraries do for every thread.
    """
    most = megabytes * _MEGABYTE
    _, hard = resource.getrlimit(resource.RLIMIT_DATA)
    if hard == resource.RLIM_INFINITY or most < hard:
        resource.setrlimit(resource.RLIMIT_DATA, (most, most))
