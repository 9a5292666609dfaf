"""From entries as received to the record that counts: repetitions, refusals, strike-outs, order (SEMANTICS.md §1)."""

from collections.abc import Iterable
from typing import NamedTuple

from .entry import Entry
from .kinds import BESIDE, RANK

_STRIKE = RANK["struck_out"]
_SPECIAL = frozenset({RANK["episode_opened"], _STRIKE, *(RANK[kind] for kind in BESIDE)})


class Refused(NamedTuple):
    """An entry that was refused. `entry` is None where its id is not a text, or where the opening itself is missing."""

    entry: str | None
    error: str


class Record(NamedTuple):
    """The record of one episode. `refused` has the place of the entry among those received beside each refusal."""

    opening: Entry | None
    entries: list[Entry]  # in order, without the opening, strike-outs, corrections and what is struck or refused
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
    received = list(received)
    refused: list[tuple[int, Refused]] = []
    known = {entry.id: entry for entry in received if entry.episode == reference}
    if len(known) < len(received):
        known = _first_stays(received, reference, refused)
    special = [(n, entry) for n, entry in enumerate(received) if entry[2] in _SPECIAL and known.get(entry.id) is entry]
    strikes, struck, waiting = _strikes(special, known, refused)
    opening = _opening(special, struck, refused)
    apart = {entry.id for _, entry in special} | struck.keys()
    entries = [entry for entry in known.values() if entry[3] not in apart] if apart else list(known.values())
    if any(map(Entry.__gt__, entries, entries[1:])):
        entries.sort()
    return Record(opening, entries, strikes, sorted(refused, key=lambda one: one[0]), struck, waiting)


def _first_stays(received: list[Entry], reference: str, refused: list[tuple[int, Refused]]) -> dict[str, Entry]:
    known: dict[str, Entry] = {}
    for index, entry in enumerate(received):
        if entry.episode != reference:
            refused.append((index, Refused(entry.id, "episode: the entry belongs to another episode")))
        elif not known.setdefault(entry.id, entry).same_as(entry):
            refused.append((index, other_content(entry.id)))
    return known


def other_content(id_: str) -> Refused:
    """The refusal of a second content under one id."""
    return Refused(id_, "id: another entry was received under this id; what was received first stays")


def _strikes(
    special: list[tuple[int, Entry]], known: dict[str, Entry], refused: list[tuple[int, Refused]]
) -> tuple[list[tuple[Entry, Entry | None]], dict[str, tuple[str, ...]], tuple[str, ...]]:
    strikes: list[tuple[Entry, Entry | None]] = []
    struck: dict[str, tuple[str, ...]] = {}
    waiting = []
    for index, entry in sorted((one for one in special if one[1].rank == _STRIKE), key=lambda one: one[1]):
        name = entry.get("entry")
        target = known.get(name)
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
