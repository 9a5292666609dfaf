"""A passkey's challenge is taken once, also by two requests at once in one session, each having read it already."""

from __future__ import annotations

import pytest
from django.contrib.sessions.backends.db import SessionStore
from django.http import HttpRequest
from django.test import RequestFactory

from clinic.staff.factors.asking import ASKED, answer_in

pytestmark = pytest.mark.django_db
CHALLENGE = {"challenge": "once", "user_verification": "required"}


def a_request(session_key: str | None) -> HttpRequest:
    """A request that has read its session."""
    request = RequestFactory().post("/")
    request.session = SessionStore(session_key)
    assert request.session[ASKED] == CHALLENGE
    return request


def test_of_two_requests_at_once_one_has_the_challenge() -> None:
    begun = SessionStore()
    begun.update({ASKED: CHALLENGE, "else": 1})
    begun.save()
    requests = [a_request(begun.session_key) for _ in range(2)]
    answers = [answer_in(request, "{}") for request in requests]
    assert [answer.asked for answer in answers if answer is not None] == [CHALLENGE, None]
    assert dict(SessionStore(begun.session_key).items()) == {"else": 1}
