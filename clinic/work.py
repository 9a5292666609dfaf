"""The door of the worker: every task acts for the programme itself, and says so."""

from typing import Any

from celery import Task

from clinic.access.standing import EVERYBODY, standing_as


class Work(Task):  # type: ignore[type-arg]  # generic for the checker alone
    """A task as it is run: what it asks of the database it asks as the programme, which sees all rows."""

    abstract = True

    def __call__(self, *args: Any, **kwargs: Any) -> Any:
        """Run it."""
        with standing_as(EVERYBODY):
            return self.run(*args, **kwargs)
