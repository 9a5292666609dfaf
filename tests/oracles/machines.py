"""The rules of the trade as little machines, written from their words and not from the protocol's formulas.

Source: the table 'Rules that must never be skipped' of the project's description of the trade (common practice, no
source beyond it). A machine reads one entry after another and says at each whether the rule is broken there.
"""

from __future__ import annotations

from collections.abc import Hashable
from typing import Any

Entry = dict[str, Any]
BARS = ("bars_both", "bars_one")
NO_WEIGHT = ("don_check", "free_swing_use")
NO_BENDING = (*NO_WEIGHT, "stand_load", "weight_shift", "hip_drive", "lock_use")
SHOWS = {  # check -> the mode it shows, and the steps that show it
    "start_of_session": ("walking", ["mode"]),
    "end_of_session": ("walking", ["mode"]),
    "lock_in": ("locked", ["straight", "caught", "loaded"]),
    "lock_out": ("walking", ["released", "bends"]),
    "free_swing_on": ("free_swing", ["on"]),
    "free_swing_off": ("walking", ["off", "loaded"]),
}
PARTLY_DONE_IS_A_SETTING = ("lock_in", "lock_out", "free_swing_off")


def mode_event(entry: Entry) -> tuple[str, ...] | None:
    """('set' | 'passed' | 'failed', mode), ('void',) for a change of knee, or None."""
    kind = entry["kind"]
    if kind == "mode_set":
        return ("set", entry["mode"])
    if kind == "mode_checked":
        return ("passed" if entry["ok"] else "failed", entry["mode"])
    if kind == "setting_changed":
        return ("void",) if entry["setting"] == "knee" else None
    if kind != "check":
        return None
    mode, steps = SHOWS[entry["name"]]
    found = [entry["steps"].get(step) for step in steps]
    if False in found:
        return ("failed", mode)
    if None not in found:
        return ("passed", mode)
    return ("set", mode) if entry["name"] in PARTLY_DONE_IS_A_SETTING else None


def loads(entry: Entry) -> bool:
    return entry["kind"] == "attempt" and entry["skill"] not in NO_WEIGHT


def bends(entry: Entry) -> bool:
    return entry["kind"] == "attempt" and entry["skill"] not in NO_BENDING


def trusts(entry: Entry) -> bool:
    """Weight on the prosthesis, a stopped lock_use left out."""
    return loads(entry) and not (entry["skill"] == "lock_use" and entry["result"] == "stopped")


class Machine:
    """`state` is all it remembers; `read` is asked at each entry, in order."""

    def __init__(self) -> None:
        self.state: Hashable = None

    def read(self, entry: Entry) -> bool:
        raise NotImplementedError


class LastModeEvent(Machine):
    """Rules 1, 2, 3 and 11 (at closing): what the last mode event says. `state` is that event."""

    def read(self, entry: Entry) -> bool:
        broken = self.asks(entry) and self.bad()
        self.state = mode_event(entry) or self.state
        return broken

    def asks(self, entry: Entry) -> bool:
        raise NotImplementedError

    def bad(self) -> bool:
        raise NotImplementedError


class LockVerified(LastModeEvent):
    def asks(self, entry: Entry) -> bool:
        return trusts(entry)

    def bad(self) -> bool:
        return self.state == ("set", "locked")


class WalkingModeProven(LastModeEvent):
    def asks(self, entry: Entry) -> bool:
        return bends(entry)

    def bad(self) -> bool:
        return self.state not in (None, ("passed", "walking"))


class NoWeightInFreeSwing(LastModeEvent):
    def asks(self, entry: Entry) -> bool:
        return loads(entry)

    def bad(self) -> bool:
        return self.state in (("set", "free_swing"), ("passed", "free_swing"))


class WalkingModeAtClose(LastModeEvent):
    def asks(self, entry: Entry) -> bool:
        return entry["kind"] in ("session_closed", "episode_closed")

    def bad(self) -> bool:
        return self.state not in (None, ("passed", "walking"))


class FreeSwingProvenOff(Machine):
    """Rule 4: free swing of this knee was set or found, and nothing was proven since. `state`: whether so."""

    def read(self, entry: Entry) -> bool:
        broken = loads(entry) and bool(self.state)
        event = mode_event(entry)
        if event in (("set", "free_swing"), ("passed", "free_swing")):
            self.state = True
        if event in (("passed", "walking"), ("passed", "locked"), ("void",)):
            self.state = False
        return broken


class FailedCheckCleared(Machine):
    """Rule 16: a check failed or the knee was exchanged, and nothing was proven since."""

    def read(self, entry: Entry) -> bool:
        broken = trusts(entry) and bool(self.state)
        event = mode_event(entry)
        if event is not None and event[0] in ("failed", "void"):
            self.state = True
        if event in (("passed", "walking"), ("passed", "locked")):
            self.state = False
        return broken


class FreeSwingSwitchedOnSafely(Machine):
    """Rule 5: (free swing was set with this knee, the last mode event is a setting of it in the bars)."""

    state: Any

    def __init__(self) -> None:
        super().__init__()
        self.state = (False, False)

    def read(self, entry: Entry) -> bool:
        felt, in_bars_now = self.state
        event, sets = mode_event(entry), entry["kind"] == "mode_set" and entry["mode"] == "free_swing"
        in_bars = sets and entry.get("support") in BARS
        broken = sets and not in_bars and not (felt and entry.get("support") == "none")
        if entry["kind"] == "check" and entry["name"] == "free_swing_on" and entry["steps"].get("seated") is False:
            broken = not in_bars_now
        felt = (felt or sets) and event != ("void",)
        self.state = (felt, in_bars if event is not None else in_bars_now)
        return broken


class FirstStairsDown(Machine):
    """Rule 6: a safe one on the contralateral rail, or both rails, came before."""

    def read(self, entry: Entry) -> bool:
        if entry["kind"] != "attempt" or entry["skill"] not in ("stair_edge", "stair_down"):
            return False
        if entry["support"] not in ("contralateral_rail", "both_rails"):
            return not self.state
        self.state = bool(self.state) or entry["result"] == "safe"
        return False


class ContralateralBeforeIpsilateral(Machine):
    """Rule 7, of one skill: safe ones on the contralateral rail since the last change, up to 3."""

    state: int

    def __init__(self) -> None:
        super().__init__()
        self.state = 0

    def read(self, entry: Entry) -> bool:
        if entry["kind"] == "setting_changed" and entry["setting"] in ("resistance", "knee"):
            self.state = 0
        if entry["kind"] != "attempt" or entry["skill"] not in ("ramp_down", "stair_down"):
            return False
        if entry["support"] in ("contralateral_rail", "both_rails"):
            self.state = min(3, self.state + (entry["result"] == "safe"))
        return entry["support"] in ("ipsilateral_rail", "one_rail", "none") and self.state < 3


class YieldProvenAfterChange(Machine):
    """Rule 12: (a change of resistance or knee came and yielding was not proven in the bars since, the knee yields)."""

    state: Any

    def __init__(self) -> None:
        super().__init__()
        self.state = (False, True)

    def read(self, entry: Entry) -> bool:
        waits, yields = self.state
        if entry["kind"] == "setting_changed" and entry["setting"] in ("resistance", "knee"):
            waits = True
            yields = "yielding" in entry.get("features", ["yielding"] if yields else [])
        if entry["kind"] == "attempt" and entry["skill"] == "yield_load":
            waits = waits and not (entry["result"] == "safe" and entry["support"] in BARS)
        self.state = (waits, yields)
        slope_or_stair = ("ramp_up", "ramp_down", "stair_up", "stair_edge", "stair_down")
        return bool(entry["kind"] == "attempt" and entry["skill"] in slope_or_stair and waits and yields)


class AssistantLimits(Machine):
    """Rule 17, of one skill: whether there was an attempt before that no assistant made."""

    def read(self, entry: Entry) -> bool:
        if entry["kind"] == "sign_off":
            return entry.get("role") in ("assistant", "prosthetist")
        if entry["kind"] != "attempt":
            return False
        assists = entry.get("role") == "assistant"
        self.state = self.state or not assists
        return assists and not self.state


MACHINES: dict[str, type[Machine]] = {
    "lock_verified": LockVerified,
    "walking_mode_proven": WalkingModeProven,
    "no_weight_in_free_swing": NoWeightInFreeSwing,
    "free_swing_proven_off": FreeSwingProvenOff,
    "free_swing_switched_on_safely": FreeSwingSwitchedOnSafely,
    "first_stairs_down": FirstStairsDown,
    "contralateral_before_ipsilateral": ContralateralBeforeIpsilateral,
    "walking_mode_at_close": WalkingModeAtClose,
    "yield_proven_after_change": YieldProvenAfterChange,
    "failed_check_cleared": FailedCheckCleared,
    "assistant_limits": AssistantLimits,
}
