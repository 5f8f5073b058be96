"""Durable jobs: kept in our own database, carried by a workflow library, done by hands.

How a job lives is told in DEVELOPERS.md. Read `durable` first, then `parts`; only `engine` knows the library.
"""

from __future__ import annotations

from .durable import DurableJobs, Power

__all__ = ["DurableJobs", "Power"]
