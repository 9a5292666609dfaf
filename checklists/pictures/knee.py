"""The knee glyph: three shapes for three modes; filled proven, dashed only set, crossed when the check failed.

Circle: walking, a bent leg that rolls. Square: locked, a straight leg with a bolt through the joint. Triangle: free
swing, a pendulum; the pointed shape warns. Lozenge: nothing was seen yet.
"""

from __future__ import annotations

from html import escape

from checklists.pictures.words import WORDS, Words

_FRAME = {
    "walking": '<circle class="kn-frame" cx="48" cy="48" r="43"{p}/>',
    "locked": '<rect class="kn-frame" x="8" y="8" width="80" height="80"{p}/>',
    "free_swing": '<path class="kn-frame" d="M48 4L93 88H3z"{p}/>',
    "unknown": '<path class="kn-frame" d="M48 4L92 48 48 92 4 48z"{p}/>',
}
# A leg: tapered thigh, mechanical joint, thin shank, foot. 'kn-hole' is cut out of the joint in the frame's own colour.
_LEG = {
    "walking": (
        '<path class="kn-body" d="M34 15l16-6 11 33-13 6z" fill="currentColor"/>'
        '<path class="kn-leg" d="M54 47L43 74" fill="none" stroke="currentColor" stroke-width="8"/>'
        '<path class="kn-body" d="M38 72l9 1 17 7v4H37z" fill="currentColor"/>'
        '<circle class="kn-body" cx="55" cy="46" r="10" fill="currentColor"/>'
        '<circle class="kn-hole" cx="55" cy="46" r="4"/>'
    ),
    "locked": (
        '<path class="kn-body" d="M39 13h18l-3 22H42z" fill="currentColor"/>'
        '<path class="kn-leg" d="M48 58V76" fill="none" stroke="currentColor" stroke-width="8"/>'
        '<path class="kn-body" d="M44 74h9l15 6v4H44z" fill="currentColor"/>'
        '<path class="kn-body" d="M34 33h28v28H34z" fill="currentColor"/>'
        '<path class="kn-hole" d="M48 38.5a5 5 0 0 1 2.8 9.2L52 56h-8l1.2-8.3A5 5 0 0 1 48 38.5z"/>'
    ),
    "free_swing": (
        '<path class="kn-body" d="M42 21h12l-2 24h-8z" fill="currentColor"/>'
        '<path class="kn-leg" d="M48 48L35 69" fill="none" stroke="currentColor" stroke-width="7"/>'
        '<path class="kn-body" d="M32 65l6 5-4 8-9-6z" fill="currentColor"/>'
        '<path class="kn-thin" d="M48 48L62 70" fill="none" stroke="currentColor" stroke-width="5" '
        'stroke-dasharray="5 4"/>'
        '<circle class="kn-body" cx="48" cy="47" r="8.5" fill="currentColor"/>'
        '<circle class="kn-hole" cx="48" cy="47" r="3.5"/>'
        '<path class="kn-thin" d="M38 80Q48 84 58 80" fill="none" stroke="currentColor" stroke-width="3.5"/>'
    ),
    "unknown": (
        '<path class="kn-leg" d="M37 38a11 11 0 1 1 15 10q-4 2-4 8" fill="none" stroke="currentColor" '
        'stroke-width="7"/>'
        '<circle class="kn-body" cx="48" cy="68" r="4.5" fill="currentColor"/>'
    ),
}
_PROOF = {
    "proven": ' fill="currentColor"',
    "set": ' fill="none" stroke="currentColor" stroke-width="5" stroke-dasharray="11 7"',
    "failed": ' fill="none" stroke="currentColor" stroke-width="4"',
}
_CROSS = '<path class="kn-cross" d="M12 84L84 12" fill="none" stroke="currentColor" stroke-width="7"/>'
_HIDDEN = 'aria-hidden="true" focusable="false"'


def knee_words(mode: str, proof: str, words: Words = WORDS) -> str:
    """The state as a reader hears it: 'Knee: locked, only set, not proven'."""
    said = f"{words.drawn['knee']}: {words.mode[mode]}"
    return said if mode == "unknown" else f"{said}, {words.proof[proof]}"


def knee(mode: str, proof: str = "set", *, size: int = 96, decorative: bool = False, words: Words = WORDS) -> str:
    """The glyph of a mode and its proof; decorative where words stand beside it. An unknown mode cannot be proven."""
    if mode not in _FRAME or proof not in _PROOF:
        raise ValueError(f"no glyph for {mode!r}, {proof!r}")
    if mode == "unknown":
        proof = "set"
    # Without a style sheet a leg on a filled frame must still be seen: white by attribute, by class in pages.
    leg = _LEG[mode].replace("currentColor", "#fff") if proof == "proven" else _LEG[mode]
    leg = leg if proof == "proven" else leg.replace('class="kn-hole"', 'class="kn-hole" fill="#fff"')
    label = _HIDDEN if decorative else f'role="img" aria-label="{escape(knee_words(mode, proof, words))}"'
    return (
        f'<svg class="knee knee-{mode} knee-is-{proof}" viewBox="0 0 96 96" width="{size}" height="{size}" {label}>'
        f"{_FRAME[mode].format(p=_PROOF[proof])}{leg}{_CROSS if proof == 'failed' else ''}</svg>"
    )
