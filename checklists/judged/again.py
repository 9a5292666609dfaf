"""An episode judged entry by entry as a tablet does it: what each one newly breaks. Pure but for what it is given.

The same steps as checklists/static/checklists/floor/local.js: an entry that can be appended is; any other is judged by
a replay, and what that says and nothing before it had said is new.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from checklists.domain import Alert, Entry, Episode, Protocol
from checklists.judged.claims import Alert as Told


def raised(
    protocol: Protocol, reference: str, record: Sequence[Entry], begin: int
) -> Iterator[tuple[Entry, frozenset[Told]]]:
    """Each entry from the place `begin` on, in the order of reception, with the alerts that came with it."""
    folded = Episode.replay(protocol, record[:begin], reference=reference)
    episode, known = folded.episode, {_identity(one) for one in folded.alerts}
    for place in range(begin, len(record)):
        entry = record[place]
        if episode.takes(entry):
            alerts = episode.append(entry)
            new = [one for one in alerts if _identity(one) not in known]
            known |= {_identity(one) for one in alerts}
        else:
            folded = Episode.replay(protocol, record[: place + 1], reference=reference)
            episode, alerts = folded.episode, folded.alerts
            new = [one for one in alerts if _identity(one) not in known]
            known = {_identity(one) for one in alerts}
        yield entry, frozenset((one.rule, one.entry, one.severity) for one in new)


def _identity(alert: Alert) -> tuple[str, str, str]:
    return alert.rule, alert.entry, alert.at
