"""Where a request came from, as trail and limits know it: nobody may say so of themselves (ASVS V4.1.3, V15.3.4)."""

from __future__ import annotations

import pytest
from django.test import Client, RequestFactory
from pytest_django.fixtures import Settings

from clinic.models import TrailRow
from clinic.web.origin import address_of, counted_as
from tests.makers import a_therapist

LIE = "203.0.113.66"


def seen(forwarded: str | None, near: str = "198.51.100.1") -> str:
    headers = {} if forwarded is None else {"X-Forwarded-For": forwarded}
    return address_of(RequestFactory().get("/", headers=headers, REMOTE_ADDR=near))


def test_without_a_proxy_nothing_forwarded_is_believed(settings: Settings) -> None:
    settings.PROXIES = 0
    assert seen(LIE) == "198.51.100.1"


@pytest.mark.parametrize(
    ("proxies", "forwarded", "whose"),
    [
        (1, "192.0.2.7", "192.0.2.7"),
        (1, f"{LIE}, 192.0.2.7", "192.0.2.7"),
        (1, f"{LIE},{LIE} ,  192.0.2.7 ", "192.0.2.7"),
        (2, f"{LIE}, 192.0.2.7, 198.51.100.9", "192.0.2.7"),
        (2, "192.0.2.7", "198.51.100.1"),  # a hop is missing: not through both, so not believed
        (1, "not an address", "198.51.100.1"),
        (1, "192.0.2.7\r\nX: y", "198.51.100.1"),
        (1, "", "198.51.100.1"),
        (1, None, "198.51.100.1"),
        (1, "2001:DB8::0:7", "2001:db8::7"),
    ],
)
def test_behind_proxies_the_hop_counted_from_the_right(
    settings: Settings, proxies: int, forwarded: str | None, whose: str
) -> None:
    settings.PROXIES = proxies
    assert seen(forwarded) == whose


@pytest.mark.parametrize(
    ("address", "counted"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("::FFFF:c000:207", "192.0.2.7"),
        ("2001:db8:0:5::1", "2001:db8:0:5::/64"),
        ("2001:DB8:0:5:ffff:1:2:3", "2001:db8:0:5::/64"),
        ("2001:db8:0:6::1", "2001:db8:0:6::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("", ""),
        ("not an address", "not an address"),
    ],
)
def test_who_may_choose_among_many_addresses_is_counted_as_one(address: str, counted: str) -> None:
    assert counted_as(address) == counted


@pytest.mark.django_db
def test_the_trail_has_the_address_that_is_true(settings: Settings) -> None:
    settings.PROXIES = 0
    headers = dict.fromkeys(("X-Forwarded-For", "X-Real-IP", "Forwarded", "True-Client-IP", "X-Client-IP"), LIE)
    Client().post("/sign-in/", {"username": a_therapist().username, "password": "wrong"}, headers=headers)
    assert str(TrailRow.objects.get(verb="sign_in.failed").origin) == "page 127.0.0.1"


@pytest.mark.django_db
@pytest.mark.parametrize("host", ["elsewhere.example", "clinic.example:80@elsewhere", "127.0.0.1/x", "a b", ""])
def test_a_request_to_a_host_that_is_not_ours_is_refused(host: str) -> None:
    answer = Client(headers={"host": host}).get("/sign-in/")
    assert answer.status_code == 400
    assert host == "" or host not in answer.content.decode()
