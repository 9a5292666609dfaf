"""From entries as they were received to the record that counts: repetitions, refusals, strike-outs, order (SEMANTICS.md §1)."""

from collections.abc import Iterable
from typing import NamedTuple

from .entry import Entry


class Refused(NamedTuple):
    """An entry that was refused. `entry` is None where its id is not a text, or where the opening itself is missing."""

    entry: str | None
    error: str


class Record(NamedTuple):
    """The record of one episode. `refused` has the place of the entry among those received beside each refusal."""

    opening: Entry | None
    entries: list[Entry]  # in order, without the opening, strike-outs and what is struck or refused
    strikes: list[tuple[Entry, Entry | None]]  # in order, each with the entry that it strikes, if that is here
    refused: list[tuple[int, Refused]]
    struck: dict[str, tuple[str, ...]]  # struck entry → the strike-outs that name it
    waiting: tuple[str, ...]  # targets of strike-outs that are not in the episode yet

    @property
    def last(self) -> Entry | None:
        """The last entry in time, of a tie in order, strike-outs included."""
        ends = [self.opening, *self.entries[-1:], *(strike for strike, _ in self.strikes[-1:])]
        return max((entry for entry in ends if entry), key=lambda entry: (entry.at_us, *place(entry)), default=None)


NO_OPENING = Refused(None, "kind: no episode_opened in this episode; the person has no features and one prosthesis")


def place(entry: Entry) -> tuple[bool, int, int, int, str]:
    """An entry's place in the order of the record: the opening stands before every other."""
    return (entry.rank != 0, *entry[:4])


def arrange(received: Iterable[Entry], reference: str) -> Record:
    """The record that follows from what was received, whatever the order and the number of times of its arrival."""
    known: dict[str, tuple[int, Entry]] = {}
    refused: list[tuple[int, Refused]] = []
    special = []
    for index, entry in enumerate(received):
        first = known.get(entry.id)
        if entry.episode != reference:
            refused.append((index, Refused(entry.id, "episode: the entry belongs to another episode")))
        elif first is None:
            known[entry.id] = index, entry
            if entry.rank == 0 or entry.kind == "struck_out":
                special.append((index, entry))
        elif not entry.same_as(first[1]):
            refused.append((index, other_content(entry.id)))
    strikes, struck, waiting = _strikes(special, known, refused)
    opening = _opening(special, struck, refused)
    apart = {entry.id for _, entry in special} | struck.keys()
    entries = [entry for _, entry in known.values() if entry.id not in apart]
    if any(map(Entry.__gt__, entries, entries[1:])):
        entries.sort()
    return Record(opening, entries, strikes, sorted(refused, key=lambda one: one[0]), struck, waiting)


def other_content(id_: str) -> Refused:
    """The refusal of a second content under one id."""
    return Refused(id_, "id: another entry was received under this id; what was received first stays")


def _strikes(
    special: list[tuple[int, Entry]], known: dict[str, tuple[int, Entry]], refused: list[tuple[int, Refused]]
) -> tuple[list[tuple[Entry, Entry | None]], dict[str, tuple[str, ...]], tuple[str, ...]]:
    strikes: list[tuple[Entry, Entry | None]] = []
    struck: dict[str, tuple[str, ...]] = {}
    waiting = []
    for index, entry in sorted((one for one in special if one[1].rank != 0), key=lambda one: one[1]):
        name = entry.get("entry")
        target = known[name][1] if name in known else None
        if target is not None and target.kind == "struck_out":
            refused.append((index, Refused(entry.id, "entry: a strike-out cannot be struck out")))
            continue
        strikes.append((entry, target))
        if target is None:
            waiting.append(name)
        else:
            struck[name] = (*struck.get(name, ()), entry.id)
    return strikes, struck, tuple(sorted(set(waiting)))


def _opening(
    special: list[tuple[int, Entry]], struck: dict[str, tuple[str, ...]], refused: list[tuple[int, Refused]]
) -> Entry | None:
    openings = sorted((entry, index) for index, entry in special if entry.rank == 0 and entry.id not in struck)
    for entry, index in openings[1:]:
        refused.append((index, Refused(entry.id, "kind: a second opening of the episode; strike one of them out")))
    return openings[0][0] if openings else None
