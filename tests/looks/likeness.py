"""Whether two pictures of a page look the same: laid out alike and coloured alike, whatever the browser's letters do.

Both are made small (a third of a tablet's width) and a little unsharp first, so that another version's way of drawing
letters does not count; what is compared then is structure in small windows (SSIM: Z. Wang, A. C. Bovik, H. R. Sheikh,
E. P. Simoncelli, "Image Quality Assessment: From Error Visibility to Structural Similarity", IEEE TIP 13(4), 2004, with
its constants and a square window) and their colour (CIE76). A page fails by its worst places, not by its mean: a panel
that moved is a small part of a page.
"""

from __future__ import annotations

import numpy as np
from PIL import Image, ImageFilter

from tests.looks import colour
from tests.looks.colour import Numbers

WIDTH, TALLEST, WINDOW, UNSHARP = 420, 1000, 13, 1.6
LEAST, PART = 0.45, 0.012  # structure of a window that is still alike; the part of the page that may be below it
SHADE, SPOT = 7.0, 0.006  # CIE76 of a window; the part of the page that may be beyond it


def reduced(picture: Image.Image) -> Image.Image:
    """As it is kept: small, without transparency, a long list without its end."""
    high = round(picture.height * WIDTH / picture.width)
    small = picture.convert("RGB").resize((WIDTH, high), Image.Resampling.LANCZOS)
    return small.crop((0, 0, WIDTH, min(high, TALLEST)))


def unlike(one: Image.Image, other: Image.Image) -> list[str]:
    """What makes two reduced pictures look different; nothing where they look the same."""
    if abs(one.height - other.height) > 0.03 * one.height:
        return [f"as high as {other.height}, not {one.height}"]
    high = min(one.height, other.height)
    pair = [_soft(picture.crop((0, 0, WIDTH, high))) for picture in (one, other)]
    low = float((_structure(*pair) < LEAST).mean())
    far = float((_shade(*pair) > SHADE).mean())
    found = [f"laid out differently in {low:.1%} of it"] if low > PART else []
    return [*found, *([f"coloured differently in {far:.1%} of it"] if far > SPOT else [])]


def _soft(picture: Image.Image) -> Numbers:
    return np.asarray(picture.filter(ImageFilter.GaussianBlur(UNSHARP)), dtype=float) / 255


def _mean(picture: Numbers, window: int) -> Numbers:
    """The mean of every square window, by sums along both sides."""
    total = np.pad(picture.cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    whole = total[window:, window:] - total[:-window, window:] - total[window:, :-window] + total[:-window, :-window]
    return np.asarray(whole / window**2)


def _structure(one: Numbers, other: Numbers) -> Numbers:
    x, y = colour.luminance(one) ** 0.5, colour.luminance(other) ** 0.5
    mx, my = _mean(x, WINDOW), _mean(y, WINDOW)
    vx, vy = _mean(x * x, WINDOW) - mx * mx, _mean(y * y, WINDOW) - my * my
    both = _mean(x * y, WINDOW) - mx * my
    c1, c2 = 0.01**2, 0.03**2
    return ((2 * mx * my + c1) * (2 * both + c2)) / ((mx * mx + my * my + c1) * (vx + vy + c2))


def _shade(one: Numbers, other: Numbers) -> Numbers:
    labs = [colour.lab(picture) for picture in (one, other)]
    apart = [np.stack([_mean(lab[..., part], WINDOW) for part in range(3)], axis=-1) for lab in labs]
    return np.asarray(np.linalg.norm(apart[0] - apart[1], axis=-1))
