"""Which processes are at work, told by a count each raises while it lives."""

from __future__ import annotations

from sqlalchemy import delete, insert, select, update

from .database import Database
from .results import WorkerRecord
from .tables import workers


class StoredWorkers:
    """Processes at work as they are kept."""

    def __init__(self, database: Database) -> None:
        self._database = database

    def beat(self, executor: str, host: str) -> None:
        """Tell that a process lives; the first time, or after it was taken for dead, it is kept anew."""
        with self._database.writing() as connection:
            mine = workers.c.executor == executor
            raised = connection.execute(update(workers).where(mine).values(beat=workers.c.beat + 1))
            if not raised.rowcount:
                connection.execute(insert(workers).values(
                    executor=executor, host=host, beat=1, started=self._database.now()
                ))  # fmt: skip

    def all(self) -> tuple[WorkerRecord, ...]:
        """Return every process kept, the longest at work first."""
        with self._database.reading() as connection:
            rows = (
                connection.execute(select(workers).order_by(workers.c.started, workers.c.executor))
                .mappings()
                .all()
            )
        return tuple(WorkerRecord(**row) for row in rows)

    def remove(self, executor: str, beat: int | None = None) -> bool:
        """Forget a process, if its count is still `beat` (whatever it is where None); tell whether it was."""
        gone = delete(workers).where(workers.c.executor == executor)
        with self._database.writing() as connection:
            return bool(
                connection.execute(gone if beat is None else gone.where(workers.c.beat == beat)).rowcount
            )
