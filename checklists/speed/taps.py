"""`floor_tap`: from a tap on the Floor to the next picture, on a processor four times slower, against a bare page's.

What is put off until the tap is answered (the page behind a question, the keys of another skill, the fold of the
record) is not in that figure: until nothing of it is left is timed beside it, and said. The Floor shows the record of a
year. The floor of the figure is a page of one key that changes one word: what no page in this browser, on this machine,
at this moment, can do faster.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from statistics import median
from typing import Any, TypeVar

Answer = TypeVar("Answer")
PROMISED_MS = 100.0
SLOWER = 4  # how many times, by the browser's own brake (CDP: Emulation.setCPUThrottlingRate)

# From the instant that the browser gives the tap to the first moment after the picture in which its answer stands; and
# to the first in which nothing more is to be drawn or worked out, asked three pictures later at the earliest.
WATCH = """() => {
    globalThis.tapped = [];
    globalThis.settled = [];
    const picture = () => new Promise(requestAnimationFrame);
    addEventListener("click", async ({ timeStamp }) => {
        requestAnimationFrame(() => {
            const { port1, port2 } = new MessageChannel();
            port2.onmessage = () => tapped.push(performance.now() - timeStamp);
            port1.postMessage(null);
        });
        for (let more = 0; more < 3; more += 1) await picture();
        requestIdleCallback(() => settled.push(performance.now() - timeStamp));
    }, true);
}"""
TOLD = """() => new Promise((resolve) => {
    const look = () => (settled.length ? resolve([tapped[0], settled[0]]) : setTimeout(look, 10));
    look();
})"""
BARE = "<!doctype html><title>bare</title><button>a</button><output></output>"
BARE_SCRIPT = """() => document.querySelector("button").addEventListener("click", () => {
    const word = document.querySelector("output");
    word.textContent = word.textContent === "b" ? "a" : "b";
})"""


@dataclass(frozen=True, slots=True)
class Taps:
    """Milliseconds of each kind of tap until it is answered and until all is settled, and of the bare page's."""

    kinds: dict[str, list[float]]
    settled: dict[str, list[float]]
    bare: list[float]

    @property
    def slowest(self) -> tuple[str, float]:
        """The kind that is slowest in the median."""
        return _slowest(self.kinds)

    @property
    def middle(self) -> float:
        """The median of all taps, whatever their kind."""
        return median(ms for times in self.kinds.values() for ms in times)

    @property
    def ratio(self) -> float:
        """The slowest kind by the bare page's tap."""
        return self.slowest[1] / median(self.bare)

    def __str__(self) -> str:
        kind, ms = self.slowest
        every = ", ".join(f"{name} {median(times):.0f}" for name, times in self.kinds.items())
        last, then = _slowest(self.settled)
        return (
            f"{ms:.0f} ms of {PROMISED_MS:.0f} ({kind}) against {median(self.bare):.0f} ms; medians: {every}; "
            f"with all that follows at most {then:.0f} ({last})"
        )


def _slowest(kinds: dict[str, list[float]]) -> tuple[str, float]:
    return max(((kind, median(times)) for kind, times in kinds.items()), key=lambda each: each[1])


def measure(page: Any, rounds: int) -> Taps:
    """Tap through a session on a Floor that stands open at its start check. `page`: of Playwright.

    Every kind of tap is made `rounds` times; whatever is recorded is really recorded.
    """
    bare = page.context.new_page()
    bare.set_content(BARE)
    bare.evaluate(BARE_SCRIPT)
    floor = _braked(bare, lambda: [_one(bare, "button")[0] for _ in range(3 * rounds)][rounds:])
    bare.close()
    kinds: dict[str, list[float]] = {}
    settled: dict[str, list[float]] = {}

    def run() -> None:
        for kind, selector in _a_session(page, rounds):
            answered, then = _one(page, selector)
            kinds.setdefault(kind, []).append(answered)
            settled.setdefault(kind, []).append(then)

    _braked(page, run)
    return Taps(kinds, settled, floor)


def _braked(page: Any, work: Callable[[], Answer]) -> Answer:
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    page.evaluate(WATCH)
    try:
        return work()
    finally:
        session.send("Emulation.setCPUThrottlingRate", {"rate": 1})
        session.detach()


def _one(page: Any, selector: str) -> tuple[float, float]:
    """One tap, when what came before it has settled; milliseconds until its answer, and until all that it asked for."""
    page.wait_for_timeout(150)
    page.evaluate("() => { tapped.length = settled.length = 0; }")
    page.locator(selector).first.click()
    answered, then = page.evaluate(TOLD)
    return float(answered), float(then)


def _a_session(page: Any, rounds: int) -> Iterator[tuple[str, str]]:
    for step in ("skin", "fit", "footwear"):
        yield "start check", f'input[name="start-{step}"][value="good"]'
    yield "start check, recorded", 'input[name="start-mode"][value="good"]'
    for _ in range(rounds):
        yield from _one_of_all(page, "even_walk")  # chosen, and not tried
        yield "support", ".rung input >> nth=0"
        for skill in ("sit_stand", "stand_load"):
            yield from _an_attempt(page, skill)
        yield from _a_lock_cycle()
        yield "undo", ".undo-last"
        yield "undo, recorded", "dialog[open] .keys button"
        yield from _walking_again()  # the proof that was struck out: without it the skills stand back


def _the_keys(page: Any) -> Iterator[tuple[str, str]]:
    """The keys of the skills make room where the one chosen needs much."""
    if page.locator(".plan-change:visible").count():
        yield "change the skill", ".plan-change"


def _one_of_all(page: Any, skill: str) -> Iterator[tuple[str, str]]:
    yield from _the_keys(page)
    yield "all skills", ".plan-all"
    yield "skill, of all", f'dialog[open] input[value="{skill}"]'


def _an_attempt(page: Any, skill: str) -> Iterator[tuple[str, str]]:
    yield from _the_keys(page)
    key = f'input[name="skill"][value="{skill}"]:visible'
    if page.locator(key).count():
        yield "skill", key
    else:
        yield from _one_of_all(page, skill)
    yield "help", 'input[name="help"][value="watching"]'
    yield "help", 'input[name="help"][value="stand_by"]'
    yield "support", '.rung input[value="bars_both"]'
    yield "seen", 'input[name="seen"]'
    yield "slider", ".scale-slider"
    yield "result", '[data-result="safe"]:enabled'


def _a_lock_cycle() -> Iterator[tuple[str, str]]:
    yield "knee", 'input[name^="mode-"][value="locked"]'
    for step in ("straight", "caught"):
        yield "proof", f'.prove input[value="{step}"]'
    yield "proof, recorded", '.prove input[value="loaded"]'
    yield "knee", 'input[name^="mode-"][value="walking"]'
    yield from _walking_again()


def _walking_again() -> Iterator[tuple[str, str]]:
    yield "proof", '.prove input[value="released"]'
    yield "proof, recorded", '.prove input[value="bends"]'
