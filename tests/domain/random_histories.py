"""Random protocols, formulas and histories for hypothesis: small, crowded in time, and close to the bounds."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from hypothesis import strategies as st

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
SUPPORT = ["bars_both", "bars_one", "contralateral_rail", "ipsilateral_rail", "stick", "none"]
HELP = ["hands_on", "stand_by", "watching", "alone"]
SETTINGS = ["resistance", "alignment", "socket", "foot", "knee", "footwear"]
FEATURES = ["lock", "free_swing", "yielding", "resistance"]
SKILLS = ["a", "b", "c", "d"]
TAGS = ["loads", "bends", "seated"]
DEVIATIONS = ["trunk", "toe"]
MEASURES = ["share", "held"]
CHECKS = {"start": ["skin", "mode"], "lock": ["caught", "loaded"]}
DURATIONS = ["PT0S", "PT1M", "PT30M", "P1D", "P4D"]
STATUSES = ["not_applicable", "suspended", "lapsed", "signed_off", "blocked", "ready", "training", "open"]


def some(values: list[Any], most: int = 3) -> st.SearchStrategy[list[Any]]:
    return st.lists(st.sampled_from(values), max_size=most, unique=True)


def optional(**fields: st.SearchStrategy[Any]) -> st.SearchStrategy[dict[str, Any]]:
    return st.fixed_dictionaries({}, optional=fields)


@st.composite
def ladders(draw: st.DrawFn, order: list[str]) -> list[str]:
    chosen = draw(st.sets(st.sampled_from(order), min_size=1, max_size=4))
    return [rung for rung in order if rung in chosen]


@st.composite
def provens(draw: st.DrawFn, rungs: list[str]) -> dict[str, Any]:
    stage = st.fixed_dictionaries(
        {"support": st.sampled_from(rungs), "in_a_row": st.integers(1, 2)},
        optional={"days": st.integers(1, 2), "help": st.sampled_from(HELP)},
    )
    base: dict[str, Any] = {}
    if draw(st.booleans()):
        base |= draw(stage)
    else:
        base["stages"] = draw(st.lists(stage, min_size=1, max_size=3))
    if draw(st.booleans()):
        base["barred"] = draw(some(DEVIATIONS, 1))
    if draw(st.integers(0, 3)) == 0:
        base["measures"] = {"share": draw(st.sampled_from([[1, 2], [None, 1], [2, None], [None, None]]))}
    return base


@st.composite
def skills(draw: st.DrawFn, position: int) -> dict[str, Any]:
    rungs = draw(ladders(SUPPORT))
    skill: dict[str, Any] = {
        "key": SKILLS[position],
        "title": "t",
        "rungs": rungs,
        "proven": draw(provens(rungs)),
        "after": draw(some(SKILLS[:position], 2)) if position else [],
        "needs": draw(st.sampled_from([[], [], [], ["yielding"], ["lock", "yielding"]])),
        "tags": draw(some(TAGS, 2)),
        "falls_back_on": draw(some(SETTINGS, 3)),
    }
    if draw(st.booleans()):
        skill["valid_days"] = draw(st.integers(1, 3))
    of_two = ["bars_both", "bars_one", "both_rails", "one_rail", "stick", "none"]
    has_a_side = bool(set(rungs) & {"contralateral_rail", "ipsilateral_rail"})
    if has_a_side or draw(st.booleans()):
        ladder = draw(ladders(of_two))
        skill["both"] = {"rungs": ladder, "proven": draw(provens(ladder))}
    return skill


def atoms() -> st.SearchStrategy[dict[str, Any]]:
    attempt = optional(
        skill=st.sampled_from(SKILLS) | some(SKILLS),
        support=st.sampled_from([*SUPPORT, "both_rails"]) | some(SUPPORT),
        help=st.sampled_from(HELP),
        result=st.sampled_from(["safe", "unsafe", "stopped"]),
        deviations=st.sampled_from(DEVIATIONS),
        measures=st.sampled_from([{"share": [1, 2]}, {"share": [None, None]}, {"held": [None, 1]}]),
        tags=st.sampled_from(TAGS) | some(TAGS),
        role=st.sampled_from(["assistant", "therapist"]),
    ).map(lambda f: {"kind": "attempt", **f})
    check = st.sampled_from(
        [
            {"kind": "check"},
            {"kind": "check", "name": "start", "steps": {"skin": True}},
            {"kind": "check", "name": "lock", "steps": {"caught": True, "loaded": False}},
            {"name": ["start", "lock"]},
            {"steps": {"mode": False}},
        ]
    )
    mode = st.sampled_from(
        [
            {"kind": "mode_set"},
            {"kind": ["mode_set", "mode_checked"], "mode": "locked"},
            {"kind": "mode_checked", "ok": True},
            {"ok": False},
            {"mode": ["walking", "free_swing"], "knee": "left"},
            {"knee": ["left", "right"]},
        ]
    )
    other = st.sampled_from(
        [
            {},
            {"kind": ["fall", "near_miss"], "skill": ["a", "b"]},
            {"kind": "setting_changed", "setting": ["knee", "socket"]},
            {"features": "yielding"},
            {"kind": "review", "outcome": "cleared"},
            {"kind": "sign_off", "role": ["assistant", "prosthetist"]},
            {"kind": ["session_closed", "episode_closed"]},
            {"seq": 0},
            {"tags": "loads"},
            {"side": "both"},
        ]
    )
    return (attempt | check | mode | other).map(lambda atom: {"entry": atom})


def formulas() -> st.SearchStrategy[dict[str, Any]]:
    within = optional(within=st.sampled_from(DURATIONS))
    status = st.fixed_dictionaries(
        {"status": st.lists(st.sampled_from(STATUSES), max_size=4)}, optional={"skill": st.sampled_from(SKILLS)}
    )

    def larger(inner: st.SearchStrategy[dict[str, Any]]) -> st.SearchStrategy[dict[str, Any]]:
        several = st.lists(inner, max_size=3)
        bounds = optional(at_least=st.integers(0, 2), at_most=st.integers(0, 2)).filter(bool)
        more = optional(after=inner, same_skill=st.booleans())
        return st.one_of(
            inner.map(lambda f: {"not": f}),
            several.map(lambda f: {"all": f}),
            several.map(lambda f: {"any": f}),
            inner.map(lambda f: {"previous": f}),
            st.tuples(inner, within).map(lambda f: {"once": f[0], **f[1]}),
            st.tuples(inner, within).map(lambda f: {"historically": f[0], **f[1]}),
            st.tuples(inner, inner, within).map(lambda f: {"since": [f[0], f[1]], **f[2]}),
            st.tuples(inner, bounds, more, within).map(lambda f: {"count": f[0], **f[1], **f[2], **f[3]}),
        )

    return st.recursive(atoms() | status, larger, max_leaves=6)


def rules(key: str) -> st.SearchStrategy[dict[str, Any]]:
    common = {"key": key, "sentence": "s", "severity": "minor", "do_now": "d"}
    pair = st.tuples(formulas(), formulas(), st.sampled_from([None, None, *DURATIONS]))
    return pair.map(
        lambda p: (
            {**common, "when": p[0], "require": p[1]}
            if p[2] is None
            else {**common, "when": p[0], "expect": p[1], "within": p[2]}
        )
    )


@st.composite
def documents(draw: st.DrawFn) -> dict[str, Any]:
    drawn = [draw(skills(position)) for position in range(len(SKILLS))]
    for tag in TAGS:  # a formula may name any of them
        if not any(tag in skill["tags"] for skill in drawn):
            drawn[-1]["tags"].append(tag)
    return {
        "key": "random",
        "version": 1,
        "title": "t",
        "gap_days": draw(st.integers(0, 3)),
        "fall_review_days": draw(st.integers(0, 2)),
        "support": SUPPORT,
        "help": HELP,
        "deviations": [{"key": key, "title": "t"} for key in DEVIATIONS],
        "measures": [{"key": key, "title": "t", "unit": "1"} for key in MEASURES],
        "checks": [
            {"key": key, "title": "t", "steps": steps, "per_knee": key == "lock"} for key, steps in CHECKS.items()
        ],
        "skills": drawn,
        "rules": [draw(rules(f"r{n}")) for n in range(draw(st.integers(0, 3)))],
    }


def uuid(n: int) -> str:
    return f"00000000-0000-4000-8000-{n:012d}"


def instants() -> st.SearchStrategy[str]:
    """Few, so that they tie and lie at the bounds; some written with another offset, on another date."""
    steps = st.sampled_from([0, 0, 0, 60, 60, 1800, 1801, 36000, 86400, 86400, 4 * 86400])
    return st.tuples(st.lists(steps, min_size=1, max_size=4).map(sum), st.sampled_from(["Z", "Z", "Z", "+14:00"])).map(
        lambda pair: _written(*pair)
    )


def _written(seconds: int, offset: str) -> str:
    instant = START + timedelta(seconds=seconds) + (timedelta(hours=14) if offset == "+14:00" else timedelta())
    return instant.strftime("%Y-%m-%dT%H:%M:%S") + offset


@st.composite
def entries(draw: st.DrawFn, count: int, document: dict[str, Any]) -> dict[str, Any]:
    number = draw(st.integers(1, count))
    kind = draw(st.sampled_from([*KINDS, *["attempt"] * 14, *["sign_off"] * 2, "fall", "review", "setting_changed"]))
    entry: dict[str, Any] = {"id": uuid(number), "episode": "E", "kind": kind, "at": draw(instants()), "by": "T"}
    entry |= draw(optional(seq=st.integers(0, 1), role=st.sampled_from(["assistant", "therapist", "prosthetist"])))
    entry |= draw(_fields(kind, count, document))
    return entry


KINDS = [
    "episode_opened", "episode_closed", "session_opened", "session_closed", "check", "mode_set", "mode_checked",
    "attempt", "setting_changed", "fall", "near_miss", "sign_off", "sign_off_withdrawn", "review", "struck_out",
    "correction_requested", "correction_answered",
]  # fmt: skip  # a list of words


def _fields(kind: str, count: int, document: dict[str, Any]) -> st.SearchStrategy[dict[str, Any]]:
    knee = st.sampled_from(["left", "right"])
    mode = st.sampled_from(["walking", "locked", "free_swing"])
    skill = st.sampled_from(SKILLS)
    ids = st.integers(1, count).map(uuid)
    if kind == "attempt":
        return st.sampled_from(document["skills"]).flatmap(lambda one: _attempts(one))
    if kind == "setting_changed":
        return st.sampled_from([*SETTINGS, "knee"]).flatmap(
            lambda setting: st.fixed_dictionaries(
                {"setting": st.just(setting), **({"features": some(FEATURES, 4)} if setting == "knee" else {})},
                optional={"knee": knee},
            )
        )
    if kind == "review":
        of = st.fixed_dictionaries(
            {"of": st.lists(ids, min_size=1, max_size=4), "outcome": st.sampled_from(["cleared", "not_cleared"])}
        )
        return of | of | st.just({})
    if kind == "check":
        return st.sampled_from(list(CHECKS)).flatmap(
            lambda name: st.fixed_dictionaries(
                {"name": st.just(name), "steps": st.dictionaries(st.sampled_from(CHECKS[name]), st.booleans())},
                optional={"knee": knee},
            )
        )
    if kind == "correction_answered":
        return _answers(ids)
    plain: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {
        "episode_opened": (
            {"side": st.sampled_from(["left", "both"]), "features": some(FEATURES, 4), "protocol": st.just("random@1")},
            {},
        ),
        "mode_set": ({"mode": mode}, {"knee": knee, "support": st.sampled_from([*SUPPORT, "both_rails"])}),
        "mode_checked": ({"mode": mode, "ok": st.booleans()}, {"knee": knee}),
        "fall": ({"injury": st.just("none")}, {"skill": st.sampled_from([*SKILLS, "lost"])}),
        "near_miss": ({}, {"skill": st.sampled_from([*SKILLS, "lost"])}),
        "sign_off": ({"skill": skill}, {}),
        "sign_off_withdrawn": ({"skill": skill}, {}),
        "struck_out": ({"entry": ids, "reason": st.just("r")}, {}),
        "correction_requested": ({"text": st.just("t"), "asked_by": st.just("p")}, {"entry": ids}),
    }
    required, more = plain.get(kind, ({}, {}))
    return st.fixed_dictionaries(required, optional=more)


def _answers(ids: st.SearchStrategy[str]) -> st.SearchStrategy[dict[str, Any]]:
    """Agreed to, with what was done or with a reason; or declined with a reason and nothing done."""
    request, reason = {"request": ids}, {"reason": st.just("r")}
    done = {"struck": st.lists(ids, max_size=2), "added": st.lists(ids, max_size=1)}
    agreed, declined = {"answer": st.just("agreed")}, {"answer": st.just("declined")}
    return st.one_of(
        st.fixed_dictionaries({**request, **agreed, **reason}, optional=done),
        st.fixed_dictionaries({**request, **agreed, "struck": st.lists(ids, min_size=1, max_size=2)}),
        st.fixed_dictionaries({**request, **declined, **reason}),
    )


def _attempts(skill: dict[str, Any]) -> st.SearchStrategy[dict[str, Any]]:
    known = list(dict.fromkeys(skill["rungs"] + skill.get("both", {}).get("rungs", [])))
    return st.fixed_dictionaries(
        {
            "skill": st.just(skill["key"]),
            "support": st.sampled_from([*known, *skill["rungs"][:2]]),
            "help": st.sampled_from([*HELP, "stand_by", "watching"]),
            "result": st.sampled_from(["safe", "safe", "safe", "safe", "unsafe", "stopped"]),
        },
        optional={
            "deviations": st.lists(st.sampled_from([*DEVIATIONS, "lost"]), max_size=1),
            "measures": st.dictionaries(
                st.sampled_from([*MEASURES, "lost"]), st.sampled_from([0, 1, 2, 3]), max_size=2
            ),
        },
    )


@st.composite
def histories(draw: st.DrawFn, document: dict[str, Any], most: int = 16) -> list[dict[str, Any]]:
    """Anything, in any order; an id may come twice, with the same or other content; mostly with an opening."""
    count = draw(st.integers(1, most))
    lines = draw(st.lists(entries(count, document), min_size=count // 2, max_size=count))
    if draw(st.integers(0, 5)):
        lines.insert(0, opening(draw(st.sampled_from(["left", "left", "both"]))))
    return lines


def opening(side: str) -> dict[str, Any]:
    common = {"id": uuid(0), "episode": "E", "kind": "episode_opened", "at": _written(0, "Z"), "by": "T"}
    return {**common, "side": side, "features": ["yielding", "lock"], "protocol": "random@1"}
