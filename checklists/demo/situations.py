"""Every situation of the trade that the demo shows, with the person in whom to look for it: the tour of README.md.

`quiet_from`: the day (0 is the day of the first start) from which the simulator leaves them to the visitor. They come
today, at every start, so that the tour stays true.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from checklists.demo.cast import DELE, JONAS, LUCIE, RUNA, SORREL, Member

FULL = ("lock", "free_swing", "yielding", "resistance")
NO_FREE_SWING = ("lock", "yielding", "resistance")


@dataclass(frozen=True, slots=True)
class Situation:
    """One situation. `script`: what is done on which day besides ordinary sessions; see checklists/demo/scripts.py."""

    person: str
    text: str
    therapist: Member
    begins: int | None = -60
    quiet_from: int = 0
    script: tuple[tuple[int, str], ...] = ()
    comes_today: bool = True
    side: str = "left"
    features: tuple[str, ...] = FULL
    urgency: str = "soon"
    referred: int = -10
    adjustments: dict[int, str] = field(default_factory=dict)


SITUATIONS: dict[str, Situation] = {
    "lapsed": Situation(
        "Ines Vartholm", "Stairs up were signed off half a year ago: the sign-off has lapsed.", RUNA, begins=-262,
        quiet_from=-3, script=((-187, "come"), (-184, "come")),
    ),
    "fall_under_review": Situation(
        "Osric Palewin", "Fell on a slope at home the day before yesterday; nobody has looked at it yet.", RUNA,
        begins=-120, quiet_from=-2, side="right", script=((-2, "fall_at_home"),),
    ),
    "fall_unreviewed": Situation(
        "Casimir Oyellwick", "Fell six days ago, and nobody looked at it in four: chased, put before the lead.", SORREL,
        begins=-80, quiet_from=-7, script=((-6, "fall_at_home"),),
    ),
    "lock_unproven": Situation(
        "Halvard Quillmoor", "Went home yesterday with the lock in: set, never proven, never released.", RUNA,
        begins=-45, quiet_from=-1, side="right", script=((-1, "lock_left"),),
    ),
    "two_prostheses": Situation(
        "Wilhelmina Daskholm", "Has two prostheses: both rails, one rail, and a mode for each knee.", RUNA,
        begins=-66, side="both", features=NO_FREE_SWING,
    ),
    "expired_authorisation": Situation(
        "Corin Ferrgrove", "Has proven the lock; their therapist's authorisation for locks has expired.",
        DELE, begins=-66, features=NO_FREE_SWING,
    ),
    "cover": Situation(
        "Tamsin Oyelledge", "Jonas is on leave: Lucie covers for him, sees his people and only on these days.", JONAS,
        begins=-75, script=((-3, "cover"),),
    ),
    "old_request": Situation(
        "Nadia Ferrowe", "A request to the prosthetist has been waiting for a month.", JONAS, begins=-58,
        side="right", script=((-31, "ask_alignment"),),
    ),
    "waiting_urgently": Situation(
        "Bertil Quaymor", "Was referred as urgent nine days ago and still waits.", RUNA, begins=None, urgency="urgent",
        referred=-9, comes_today=False,
    ),
    "overdue_review": Situation(
        "Petra Wexenmoor", "A review was due twelve days ago.", LUCIE, begins=-95, features=NO_FREE_SWING,
        script=((-40, "plan_overdue_review"),),
    ),
    "override": Situation(
        "Aurel Brindlecombe", "A skill was signed off before it was proven; a second lead countersigned.", SORREL,
        begins=-50, script=((-20, "override"),), quiet_from=-1,
    ),
    "late_fact": Situation(
        "Sunniva Kettleby", "An unsafe attempt arrived two days late from a tablet without signal.",
        RUNA, begins=-22, quiet_from=-3, script=((-3, "session_with_late_fact"), (-1, "late_fact")),
    ),
    "struck_out": Situation(
        "Ottoline Prydfold", "An attempt was recorded on the wrong person and struck out.", LUCIE, begins=-30,
        features=NO_FREE_SWING, script=((-4, "wrong_person"),), quiet_from=-4,
    ),
    "struck_danger": Situation(
        "Maro Ellingswin", "An unsafe attempt was struck out: put before the lead.", SORREL, begins=-40,
        script=((-5, "strike_unsafe"),), quiet_from=-5,
    ),
    "held_fact": Situation(
        "Hamid Larksgrove", "Facts of ten days ago came in yesterday: held for a lead to let in.", RUNA, begins=-48,
        quiet_from=-1, script=((-1, "held_fact"),),
    ),
    "unsafe_pair": Situation(
        "Idris Tamberpar", "Two unsafe attempts close together: what was signed off is suspended.", DELE, begins=-90,
        features=("yielding", "resistance"), script=((-2, "unsafe_pair"),), quiet_from=-2,
    ),
    "gap": Situation(
        "Greta Sundquill", "Was away for five weeks: begins again in the bars.", RUNA, begins=-110, quiet_from=-36,
    ),
    "paused": Situation(
        "Linnea Mistlecombe", "Rests for a month after an operation; the course is paused.", LUCIE, begins=-64,
        features=NO_FREE_SWING, quiet_from=-10, script=((-10, "pause"),), comes_today=False,
    ),
    "transfer": Situation(
        "Kwame Orlthorpe", "Moved house: from the main gym to Quay Street, from Runa to Sorrel. Says that an entry "
        "is wrong.", RUNA, begins=-55, script=((-8, "transfer"), (-2, "correction")),
    ),
    "knee_exchanged": Situation(
        "Saoirse Vartwin", "Got a new knee yesterday: nothing holds until the bars have shown it.", SORREL, begins=-85,
        quiet_from=-1, script=((-1, "new_knee"),),
    ),
    "resistance_changed": Situation(
        "Yusra Brindlemoor", "The resistance was changed yesterday: what depends on it must be proven again.", RUNA,
        begins=-130, quiet_from=-3, script=((-3, "ask_resistance"), (-1, "resistance")),
    ),
    "ready_to_sign": Situation(
        "Zofia Larkswick", "Has proven a skill: it waits to be signed off today.", RUNA, begins=-12, quiet_from=-1,
        script=((-1, "leave_unsigned"),),
    ),
    "refused_fact": Situation(
        "Viktor Daskpar", "A fall was sent that could not be read: refused and kept for the lead.", DELE, begins=-26,
        features=("yielding", "resistance"), script=((-2, "refused_fall"),), quiet_from=-2,
    ),
    "did_not_come": Situation(
        "Oona Kettlemor", "Missed the last two sessions without a word.", SORREL, begins=-33, quiet_from=-8,
        script=((-8, "missed"), (-4, "missed")),
    ),
}  # fmt: skip  # a table, read by row
