"""What advice says of a planned attempt's count is what recording it then does to the evidence (SEMANTICS.md §5)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from checklists.domain import Counted, Entry, Episode, parse_entry
from tests.domain.example import DOCUMENT, EPISODE, PROTOCOL, Story, uuid_of
from tests.domain.histories import Fact, histories

DAYS = (datetime(2026, 3, 19, 9, 0, tzinfo=UTC), datetime(2026, 3, 24, 9, 0, tzinfo=UTC))
LATER = datetime(2026, 4, 8, 9, 0, tzinfo=UTC)  # after a gap
PLANNED = st.one_of(
    [
        st.fixed_dictionaries(
            {
                "skill": st.just(skill["key"]),
                "support": st.sampled_from(skill["rungs"] + skill.get("both", {}).get("rungs", [])),
                "help": st.sampled_from(DOCUMENT["help"]),
                "measures": st.sampled_from([{}, {"held_s": 12}, {"held_s": 2}]),
                "deviations": st.sampled_from([[], ["bent_trunk"]]),
            }
        )
        for skill in DOCUMENT["skills"]
    ]
)


def recorded(entries: Sequence[Entry], planned: Fact, result: str, at: datetime) -> Episode:
    """The episode once the attempt is recorded."""
    episode = Episode.replay(PROTOCOL, entries, reference=EPISODE).episode
    made = {"id": uuid_of(999), "episode": EPISODE, "at": at.isoformat(), "by": "tam", "kind": "attempt"}
    stopped: Fact = {"deviations": []} if result == "stopped" else {}
    episode.append(parse_entry({**made, **planned, **stopped, "result": result}, PROTOCOL))
    return episode


def after(entries: Sequence[Entry], planned: Fact, result: str, at: datetime) -> tuple[int, int, int, bool]:
    """The evidence once the attempt is recorded: stage, run, days, met."""
    said = recorded(entries, planned, result, at).status(planned["skill"], at)
    return said.stage, said.run, said.days, said.met


def left_uncounted(entries: Sequence[Entry], planned: Fact, at: datetime) -> bool:
    """Whether the attempt, safe, is remembered as one that did not count; the same from a snapshot of the episode."""
    episode = recorded(entries, planned, "safe", at)
    left = uuid_of(999) in episode.uncounted()
    assert Episode.restore(PROTOCOL, episode.snapshot()).uncounted() == episode.uncounted()
    return left


@settings(max_examples=200, deadline=None)
@given(histories(), PLANNED, st.sampled_from([*DAYS, LATER]))
def test_it_counts_or_begins_the_row_anew_exactly_when_the_evidence_says_so(
    facts: list[Fact], planned: Fact, at: datetime
) -> None:
    """Beside the same attempt without fault that was stopped: it counts for nothing and comes at the same gap."""
    entries = [parse_entry(fact, PROTOCOL) for fact in facts]
    episode = Episode.replay(PROTOCOL, entries, reference=EPISODE).episode
    said, status = episode.advise(planned, at=at).counted, episode.status(planned["skill"], at)
    assert left_uncounted(entries, planned, at) == (said is not None and not said.counts)
    if status.status in ("signed_off", "not_applicable"):
        assert said is None
        return
    before, made = after(entries, planned, "stopped", at), after(entries, planned, "safe", at)
    if said is None:
        assert status.met
        assert made[3]
        return
    stage, run, days, met = made
    if said.counts:
        assert run > before[1] or stage > before[0] or met > before[3]
        assert said == Counted(counts=True, anew=False, support=None, help=None, measures=())
    elif said.anew:
        assert (run, days, met) == (0, 0, False)
    else:
        assert made == before


def said_of(story: Story, skill: str, support: str, help_: str = "stand_by", **more: Any) -> Counted | None:
    planned = {"skill": skill, "support": support, "help": help_, **more}
    return story.episode().advise(planned, at=story.at).counted


def test_what_an_attempt_lacks_is_what_the_stage_asks_for() -> None:
    story = Story()
    assert said_of(story, "stand", "bars_both") == Counted(False, False, "bars_one", None, ("held_s",))
    assert said_of(story, "ramp", "contralateral_rail", "hands_on") == Counted(False, False, None, "stand_by", ())
    assert said_of(story, "ramp", "contralateral_rail") == Counted(True, False, None, None, ())
    story.attempt("stand", "bars_both")
    assert said_of(story, "stand", "bars_one") == Counted(False, False, None, None, ("held_s",))
    assert said_of(story, "stand", "bars_one", measures={"held_s": 12}) == Counted(True, False, None, None, ())


def test_what_would_break_the_row_does_not_count_although_it_lacks_nothing() -> None:
    story, anew = Story(), Counted(False, True, None, None, ())
    story.attempt("stand", "bars_both")
    assert said_of(story, "stand", "bars_one", measures={"held_s": 9}) == anew
    barred: dict[str, Any] = {"measures": {"held_s": 12}, "deviations": ["bent_trunk"]}
    assert said_of(story, "stand", "bars_one", **barred) == anew
    assert said_of(story, "don", "none", result="unsafe") == anew
    assert said_of(story, "don", "none", result="stopped") == Counted(False, False, None, None, ())


def test_nothing_is_counted_of_what_is_proven_or_cannot_be_done() -> None:
    story = Story(features=())
    assert said_of(story, "yield", "bars_both") is None
    for _ in range(2):
        story.attempt("don", "none", days=1)
    assert said_of(story, "don", "none") is None
    assert story.episode().advise({"kind": "sign_off", "skill": "don"}, at=story.at).counted is None


def test_what_did_not_count_is_remembered_until_one_of_another_date_does_not() -> None:
    story = Story()
    first = story.attempt("stand", "bars_both")
    story.attempt("stand", "bars_one", measures={"held_s": 12})
    assert story.episode().uncounted() == [first]
    second = story.attempt("stand", "bars_one")
    assert story.episode().uncounted() == [first, second]
    later = story.attempt("stand", "bars_one", days=1)
    assert story.episode().uncounted() == [later]
