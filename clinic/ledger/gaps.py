"""Numbers that were not there, or not ours, when the sealer came by."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence

from django.db import connection

from clinic.ledger.gather import Found
from clinic.ledger.models import LedgerGap

Range = tuple[int, int, bool]  # first, last, and whether rows that are not ours stand there
_KEPT = """
INSERT INTO clinic_ledgergap (source, first, last, slipped_in)
SELECT %s, * FROM unnest(%s::bigint[], %s::bigint[], %s::bool[])
"""


def settle(source: int, found: Found, bad: set[int]) -> list[int]:
    """Bring the gaps of a table to where things stand once all that was found is sealed, but for the bad ones.

    Returns the numbers of bad ones that nobody has been told of.
    """
    numbers = [row.number for row in found.rows]
    touched = set(found.late.values())
    known = LedgerGap.objects.filter(pk__in=touched).values_list("pk", "first", "last", "slipped_in") if touched else []
    stale, fresh, told = [], [], set()
    for pk, first, last, slipped in known:
        left = cut(first, last, numbers, bad)
        if left != [(first, last, slipped)]:
            stale.append(pk)
            fresh += left
        if slipped:
            told |= {number for number in bad if first <= number <= last}
    if found.after > found.seen:
        fresh += cut(found.seen + 1, found.after, numbers, bad)
    _replace(source, stale, fresh)
    return sorted(bad - told)


def cut(first: int, last: int, numbers: Sequence[int], bad: set[int]) -> list[Range]:
    """What is left of a range when these numbers (ascending) are sealed: empty stretches, and the bad ones apart."""
    left: list[Range] = []
    for number in numbers[bisect_left(numbers, first) : bisect_right(numbers, last)]:
        if first < number:
            left.append((first, number - 1, False))
        if number in bad:
            joins = left and left[-1][2] and left[-1][1] == number - 1
            left.append((left.pop()[0] if joins else number, number, True))
        first = number + 1
    return [*left, (first, last, False)] if first <= last else left


def _replace(source: int, stale: Sequence[int], fresh: Sequence[Range]) -> None:
    with connection.cursor() as cursor:
        if stale:
            cursor.execute("DELETE FROM clinic_ledgergap WHERE id = ANY(%s)", [list(stale)])
        if fresh:
            firsts, lasts, slipped = zip(*fresh, strict=True)
            cursor.execute(_KEPT, [source, list(firsts), list(lasts), list(slipped)])
