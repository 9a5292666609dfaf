"""The measure finds what somebody would see, and not what only a browser's version changes."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.looks.likeness import reduced, unlike

FOLDER = Path(__file__).parent / "pictures"
PAGES = sorted(FOLDER.glob("*.png"))


@pytest.fixture(params=PAGES, ids=lambda path: path.stem)
def page(request: pytest.FixtureRequest) -> Image.Image:
    """A reference picture, as it is kept."""
    return Image.open(request.param).convert("RGB")


def test_there_are_pictures_and_git_can_carry_them() -> None:
    assert len(PAGES) >= 10
    assert sum(path.stat().st_size for path in PAGES) < 3_000_000


def test_a_page_looks_like_itself(page: Image.Image) -> None:
    assert unlike(page, reduced(page)) == []


def test_letters_drawn_a_little_differently_are_no_difference(page: Image.Image) -> None:
    """Half a pixel to the side, as another hinting leaves them, with a grain over everything."""
    half = page.transform(page.size, Image.Transform.AFFINE, (1, 0, 0.5, 0, 1, 0.3), Image.Resampling.BICUBIC)
    half.paste(page.crop((0, 0, 2, page.height)), (0, 0))
    grain = np.random.default_rng(7).integers(-6, 7, (page.height, page.width, 3))
    noisy = np.clip(np.asarray(half, dtype=int) + grain, 0, 255).astype(np.uint8)
    assert unlike(page, Image.fromarray(noisy)) == []


def test_a_panel_that_moved_is_found(page: Image.Image) -> None:
    """The middle third of the page, lower by a line of text."""
    moved, third = page.copy(), page.height // 3
    part = page.crop((0, third, page.width, 2 * third))
    moved.paste(part, (0, third + 9))
    assert unlike(page, moved) != []


def test_a_panel_that_is_missing_is_found(page: Image.Image) -> None:
    box = _fullest(page)
    gone = page.copy()
    gone.paste(page.crop((2, page.height - 3, 3, page.height - 2)).resize((box[2] - box[0], box[3] - box[1])), box)
    assert unlike(page, gone) != []


@pytest.mark.parametrize(
    "name", ["floor", "floor-upright", "floor-warning-dark", "person", "person-dark", "today-dark"]
)
def test_a_wrong_colour_is_found(name: str) -> None:
    """Ground and ink as they are, everything coloured turned by a third of the circle: red for green. On a page with
    hardly any colour a mark in the wrong one is below the measure; its shape and word are not."""
    page = Image.open(FOLDER / f"{name}.png").convert("RGB")
    hue, full, light = page.convert("HSV").split()
    turned = Image.merge("HSV", (hue.point(lambda h: (h + 85) % 256), full, light)).convert("RGB")
    assert unlike(page, turned) != []


def _fullest(page: Image.Image) -> tuple[int, int, int, int]:
    """Of a grid of panels the one with most on it."""
    wide, high = page.width // 3, min(90, page.height // 3)
    boxes = [(x, y, x + wide, y + high) for y in range(0, page.height - high, high) for x in (0, wide, 2 * wide)]
    return max(boxes, key=lambda box: float(np.asarray(page.crop(box).convert("L"), dtype=float).std()))
