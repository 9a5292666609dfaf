"""SVG of the measure bars: pure. Ticks say the scale, the post says the limit; colour only agrees."""

from __future__ import annotations

from html import escape

from django.utils.translation import gettext as _

from caseload.words import days_words, hours

WIDTH = 440
DAYS_WIDTH = 190
DAYS_SHOWN = 49


def scale(most: int) -> tuple[int, int]:
    """The end of a scale in minutes that holds `most`, and the step between its numbers: whole hours, ten at most."""
    most_hours = max(1, -(-most // 60))
    step = next(size for size in (1, 2, 5, 10, 20, 50, 100, 200) if most_hours <= size * 10 or size == 200)
    return (-(-most_hours // step)) * step * 60, step * 60


def load_bar(minutes: int, with_cover: int, after: int, capacity: int, widest: int = 0) -> str:
    """Solid what is carried, dashed what cover or one more would add; crimson what of both is beyond the post."""
    end, step = scale(max(minutes, with_cover, after, capacity, widest) + 1)
    x = WIDTH / end
    ticks = "".join(f"M{at * x:.1f} 32v8" for at in range(0, end + 1, step))
    numbers = "".join(
        f'<text class="ms-num" x="{at * x:.1f}" y="53" font-size="12" text-anchor="{"start" if at == 0 else "middle"}"'
        f' fill="currentColor">{at // 60}</text>'
        for at in range(0, end + 1, step)
    )
    within, added = min(minutes, capacity), max(with_cover, after)
    words = _("{hours} of {all} carried").format(hours=hours(minutes), all=hours(capacity))
    words += ", " + _("{hours} with what is added").format(hours=hours(added)) if added > minutes else ""
    over = _rect("ms-bar-over", capacity * x, (minutes - capacity) * x, 10, 14) if minutes > capacity else ""
    extra = _added(minutes, added, capacity, x)
    return (
        f'<svg class="measure" viewBox="-4 0 462 58" role="img" aria-label="{escape(words)}">'
        f'<path class="ms-track" d="M0 32H{WIDTH}{ticks}"/>{numbers}'
        f"{_rect('ms-bar', 0, within * x, 10, 14)}{over}{extra}"
        f'<path class="ms-post" d="M{capacity * x:.1f} 2v34"/></svg>'
    )


def _added(minutes: int, added: int, capacity: int, x: float) -> str:
    """What is added, dashed: its part beyond the post in crimson too."""
    parts = (
        ("ms-bar-add", minutes, min(added, capacity)),
        ("ms-bar-add ms-bar-add-over", max(minutes, capacity), added),
    )
    return "".join(
        _rect(name, first * x + 1, (last - first) * x - 2, 11, 12) for name, first, last in parts if last > first
    )


def wait_bar(days: int, limit: int) -> str:
    """Weeks as ticks, seven of them; a wait beyond the scale ends in an arrow."""
    x = DAYS_WIDTH / DAYS_SHOWN
    ticks = "".join(f"M{week * 7 * x:.1f} 18v7" for week in range(DAYS_SHOWN // 7 + 1))
    shown = min(days, DAYS_SHOWN) * x
    beyond = f'<path class="ms-bar-over" d="M{DAYS_WIDTH} 2l9 7.500-9 7.500z"/>' if days > DAYS_SHOWN else ""
    words = escape(_("{days}, limit {limit}").format(days=days_words(days), limit=limit))
    return (
        f'<svg class="measure wait" viewBox="0 0 200 26" width="200" height="26" role="img"'
        f' aria-label="{words}"><path class="ms-track" d="M0 21.500H{DAYS_WIDTH}{ticks}"/>'
        f"{_rect('ms-bar-over' if days > limit else 'ms-bar', 0, shown, 5, 9)}{beyond}"
        f'<path class="ms-post" d="M{limit * x:.1f} 0v25"/></svg>'
    )


def _rect(name: str, x: float, width: float, y: int, height: int) -> str:
    return f'<rect class="{name}" x="{x:.1f}" y="{y}" width="{max(0.0, width):.1f}" height="{height}"/>'
