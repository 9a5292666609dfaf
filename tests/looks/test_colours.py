"""The tokens' contrasts by the formula of WCAG 2.2, in light and dark, for every sight."""

from __future__ import annotations

import pytest

from tests.looks import colour

THEMES = colour.themes()
GROUNDS = ("chalk", "paper", "well")
SIGNALS = ("pine", "blue", "ember", "crimson", "brass")


def between(theme: str, one: str, other: str, sight: str = "all") -> float:
    """The contrast of two tokens."""
    colours = THEMES[theme]
    seen = [colour.seen_by(colour.rgb(colours[name]), sight) for name in (one, other)]
    return colour.contrast(*seen)


def test_the_formula_gives_the_standards_own_ends() -> None:
    black, white = colour.rgb("#000000"), colour.rgb("#ffffff")
    assert colour.contrast(black, white) == pytest.approx(21)
    assert colour.contrast(white, white) == 1
    assert colour.contrast(colour.rgb("#767676"), white) == pytest.approx(4.54, abs=0.01)  # known as the lightest grey


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("ground", GROUNDS)
def test_text_has_the_contrast_that_it_needs(theme: str, ground: str) -> None:
    assert between(theme, "ink", ground) >= 12
    assert between(theme, "ink-2", ground) >= (6.4 if ground == "well" else 7)  # bright light: beyond what AA asks
    for signal in SIGNALS:
        assert between(theme, signal, ground) >= 4.5, signal


@pytest.mark.parametrize("theme", THEMES)
def test_text_on_a_filled_signal_and_on_its_wash_can_be_read(theme: str) -> None:
    for signal in SIGNALS:
        assert between(theme, signal, f"{signal}-wash") >= 4.5, signal
        if signal != "brass":
            assert between(theme, "on-solid", signal) >= 4.5, signal


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("sight", colour.SIGHTS)
def test_controls_and_drawings_have_the_contrast_that_they_need(theme: str, sight: str) -> None:
    for ground in ("chalk", "paper"):
        for drawn in ("edge", "brass-rail", *SIGNALS):
            assert between(theme, drawn, ground, sight) >= 3, (drawn, ground)
