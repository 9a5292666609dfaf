"""What is watched, and from when on it is wrong: one table. Pure; settings.WATCH_LIMITS takes its numbers from here.

Each has a variable, `WATCH_OUTBOX=300` for example; 0 leaves it unwatched, and the Watch page says so. The numbers are
common practice, no source, but for `seal`, which is the ledger's own promise.
"""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _

from clinic.language.text import Text

MINUTE, HOUR, DAY = 60, 3600, 86_400

# Two sentences for everybody, with what to do at the bars; the rest is for whoever can mend it.
_UNTOLD = _(
    "Alerts may be reaching nobody at this moment. Go on recording; if a safety step was "
    "skipped, tell the therapist and a clinic lead yourself, now."
)
_TEND = _("The server needs somebody to look after it. Go on working as usual, and tell a clinic lead today.")

_FULL = _(
    "The server's disk is nearly full: soon nothing could be recorded. Tell a clinic lead now, and have paper at hand."
)


@dataclass(frozen=True, slots=True)
class Limit:
    """One thing that is watched. `most` seconds of age, or at least `most` megabytes of room."""

    name: str
    title: Text
    most: int
    say: Text
    do: Text
    demo: int | None = None  # in the demo, where nobody keeps backups
    room: bool = False

    @property
    def variable(self) -> str:
        """The environment's name for its number."""
        return f"WATCH_{self.name.upper()}"

    def default(self, *, demo: bool) -> int:
        """The number where nothing is said."""
        return self.demo if demo and self.demo is not None else self.most


LIMITS = (
    Limit(
        "outbox", _("News that nobody has been told yet"), 2 * MINUTE, _UNTOLD,
        _("See that worker, scheduler and broker run (their logs say why not), then that the oldest row goes."),
    ),
    Limit(
        "worker", _("Last time the worker emptied the outbox"), 2 * MINUTE, _UNTOLD,
        _("Start worker and scheduler again; see that the broker answers them."),
    ),
    Limit(
        "deadlines", _("Last look at what is overdue"), 3 * MINUTE, _UNTOLD,
        _("Start worker and scheduler again: overdue reviews and knees left locked are found by them alone."),
    ),
    Limit(
        "retries", _("News that could not be told and is tried again"), 15 * MINUTE, _UNTOLD,
        _("Mostly the mail server: see that it takes mail, and the worker's log for what it answered."),
    ),
    Limit(
        "seal", _("Oldest row that is not sealed"), MINUTE, _TEND,
        _("See why the sealer does not run: the worker's log, and whether the keys are where LEDGER_KEYS says."),
    ),
    Limit(
        "sealer", _("Last run of the sealer"), 2 * MINUTE, _TEND,
        _("Start the worker again; manage.py seal_ledger says at once what is in its way."),
    ),
    Limit(
        "disk", _("Room on the fullest disk"), 1024, _FULL,
        _("Make room: old backups and logs first, never files of the database. Then find out what grows."), room=True,
    ),
    Limit(
        "verify", _("Last verification of the ledger"), 36 * HOUR, _TEND,
        _("Run manage.py verify_ledger, read what it says, and see why the nightly run did not happen."), demo=0,
    ),
    Limit(
        "backup", _("Last backup"), 36 * HOUR, _TEND,
        _("Run manage.py backup now, and see why the nightly one did not happen."), demo=0,
    ),
    Limit(
        "restore", _("Last backup that was proven by restoring it"), 35 * DAY, _TEND,
        _("Run manage.py restore --check on the newest backup: one that was never restored is a hope."), demo=0,
    ),
)  # fmt: skip  # a table, read by row
BY_NAME = {one.name: one for one in LIMITS}
