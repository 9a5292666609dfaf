"""Prerequisites without a hairball: one thin line a parent, turning into every tread that waits for it.

Rows are sorted by level, so everything that a skill needs lies below it. The line of a skill rises in the landing to
the right of its own level; the lowest parent has the right-most line, so that lines of one level do not cross. Solid
when the skill below is signed off, dashed while it is not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from checklists.pictures.tread import Tread


def lanes(rows: Sequence[Tread], left: Mapping[str, float], y: Mapping[str, float], landing: float) -> str:
    """The lines of all parents; `left` and `y` give the start and the height of each tread's plank."""
    parents = {a for t in rows for a in t.after}
    out: list[str] = []
    for level in sorted({t.level for t in rows}):
        here = [t for t in rows if t.level == level and t.key in parents]
        if not here:
            continue
        base = max(left[t.key] for t in rows if t.level == level)
        gap = (landing - 4) / len(here)
        for n, parent in enumerate(reversed(here)):
            out.append(_lane(parent, base + 2 + gap * (n + 0.5), rows, left, y))
    return f'<g aria-hidden="true">{"".join(out)}</g>'


def _lane(parent: Tread, x: float, rows: Sequence[Tread], left: Mapping[str, float], y: Mapping[str, float]) -> str:
    kids = [t for t in rows if parent.key in t.after]
    foot, top = y[parent.key], min(y[t.key] for t in kids)
    met = parent.status == "signed_off"
    dash = "" if met else ' stroke-dasharray="3 3"'
    path = f"M{x:g} {foot:g}V{top + 3:g}" + "".join(f"M{x:g} {y[k.key] + 3:g}H{left[k.key] - 1:g}" for k in kids)
    heads = "".join(
        f'<path class="ln-head" d="M{left[k.key] - 5:g} {y[k.key] - 1:g}l5 4-5 4z" fill="currentColor"/>' for k in kids
    )
    return (
        f'<g class="ln ln-{"met" if met else "unmet"}">'
        f'<path class="ln-halo" d="M{x:g} {foot - 1:g}V{top + 3:g}" fill="none"/>'
        f'<path class="ln-line" d="{path}" fill="none" stroke="currentColor" stroke-width="1.5"{dash}/>{heads}'
        f'<circle class="ln-foot" cx="{x:g}" cy="{foot + 3:g}" r="3" fill="currentColor"/></g>'
    )
