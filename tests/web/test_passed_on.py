"""Where a colleague comes to whom a device was passed on, and what they are told of whom it was open at."""

from __future__ import annotations

import re
from collections.abc import Callable
from uuid import UUID, uuid4

import pytest
from django.test import Client
from django.urls import reverse

from tests.makers import a_therapist, an_episode

pytestmark = pytest.mark.django_db
Enter = Callable[..., Client]


def said_to(browser: Client, episode: UUID) -> str:
    """The notes on the page that they come to."""
    page = browser.get(reverse("floor_taken_over", args=[episode]), follow=True).content.decode()
    return "".join(re.findall(r'<ul class="said">.*?</ul>', page, re.DOTALL))


def test_whoever_may_not_see_the_person_is_told_why_they_are_elsewhere_and_learns_of_nobody(enter: Enter) -> None:
    runa = a_therapist(name="Runa Achterling")
    episode = an_episode(assigned_to=runa)
    elsewhere = enter(a_therapist())
    said = said_to(elsewhere, episode.pk)
    assert "The person that this device was open at is not yours to see" in said
    assert not re.search(f"Runa|{episode.person.family_name}|{episode.person.given_name}", said)
    assert said == said_to(elsewhere, uuid4())  # not even that there is such a person
    assert said_to(enter(runa), episode.pk) == ""
