"""Colours as the standards reckon with them: tokens of tokens.css, contrast by WCAG, and what the colour-blind see.

Contrast: WCAG 2.2, relative luminance and contrast ratio (https://www.w3.org/TR/WCAG22/#dfn-contrast-ratio).
Colour blindness: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, "A Physiologically-based Model for Simulation of
Color Vision Deficiency", IEEE TVCG 15(6), 2009, table of matrices at severity 1.0, applied to linear light (the numbers
from memory). Lightness: CIE 1976 L*a*b* with the white of D65, difference by CIE76.
"""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from clinic.run.places import ROOT

Numbers = NDArray[np.float64]
TOKENS = Path(ROOT / "clinic/static/clinic/css/tokens.css").read_text()
SIGHTS: dict[str, Numbers] = {
    "all": np.eye(3),
    "protanopia": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "deuteranopia": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "tritanopia": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
    "none": np.array([[0.2126, 0.7152, 0.0722]] * 3),  # only lighter and darker: a print without colour
}
_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_D65 = np.array([0.9505, 1.0, 1.089])


def themes() -> dict[str, dict[str, str]]:
    """The colour tokens of light and dark, as written."""
    light, dark = TOKENS.index(":root {"), TOKENS.index(":root:not([data-theme")
    pair = re.compile(r"--([\w-]+):\s*(#[0-9a-f]{6})")
    day = dict(pair.findall(TOKENS[light:dark]))
    night = dict(pair.findall(TOKENS[dark : TOKENS.index("}", dark)]))
    return {"light": day, "dark": {**day, **night}}


def rgb(written: str) -> Numbers:
    """`#rrggbb` as three numbers from 0 to 1."""
    return np.array([int(written[at : at + 2], 16) / 255 for at in (1, 3, 5)])


def linear(colour: Numbers) -> Numbers:
    """sRGB to linear light (IEC 61966-2-1)."""
    return np.where(colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4)


def gamma(light: Numbers) -> Numbers:
    """Linear light to sRGB, kept within what a screen shows."""
    kept = np.clip(light, 0, 1)
    return np.where(kept <= 0.0031308, kept * 12.92, 1.055 * kept ** (1 / 2.4) - 0.055)


def seen_by(colour: Numbers, sight: str) -> Numbers:
    """A colour, or a picture of colours (…, 3), as somebody with this sight sees it."""
    return gamma(linear(colour) @ SIGHTS[sight].T)


def luminance(colour: Numbers) -> Numbers:
    """Relative luminance."""
    return np.asarray(linear(colour) @ np.array([0.2126, 0.7152, 0.0722]))


def contrast(one: Numbers, other: Numbers) -> float:
    """From 1 to 21."""
    low, high = sorted((float(luminance(one)), float(luminance(other))))
    return (high + 0.05) / (low + 0.05)


def lab(colour: Numbers) -> Numbers:
    """CIE 1976 L*a*b*."""
    part = (linear(colour) @ _XYZ.T) / _D65
    root = np.where(part > (6 / 29) ** 3, np.cbrt(part), part * (29 / 6) ** 2 / 3 + 4 / 29)
    x, y, z = root[..., 0], root[..., 1], root[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def apart(one: Numbers, other: Numbers) -> float:
    """How far apart two colours look: 2.3 is just noticeable, 10 is seen at a glance (CIE76)."""
    return float(np.linalg.norm(lab(one) - lab(other)))
