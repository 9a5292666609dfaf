"""How many examples hypothesis draws: it finds what nobody thought of, slowly; the many are dealt (deck.py)."""

MOST = 400


def drawn(histories: int) -> int:
    """Of so many histories that are asked for in all."""
    return min(max(histories // 4, 10), MOST)
