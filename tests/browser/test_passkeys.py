"""Passkeys in a real browser, by its own virtual authenticator (W3C WebAuthn, section 11): made, used to come in and to
sign, refused where nobody is verified."""

from __future__ import annotations

from typing import Any

import pytest
from playwright.sync_api import CDPSession, Page, expect

from caseload.models import Episode
from checklists.models import Signature
from clinic.audit.models import TrailRow
from clinic.staff.factors.models import Factor, Kind, in_use
from clinic.staff.models import Staff
from tests.browser.conftest import Enter
from tests.browser.looking import barriers, in_both_schemes, wider_than_the_screen
from tests.makers import PASSWORD, a_code, a_lead, a_therapist, ago, an_attempt, an_episode, recorded


class Key:
    """The browser's virtual authenticator, with somebody's finger on it."""

    def __init__(self, page: Page) -> None:
        self._cdp: CDPSession = page.context.new_cdp_session(page)
        self._cdp.send("WebAuthn.enable")
        options = {
            "protocol": "ctap2",
            "transport": "internal",
            "hasResidentKey": True,
            "hasUserVerification": True,
            "isUserVerified": True,
            "automaticPresenceSimulation": True,
        }
        self.id = self._cdp.send("WebAuthn.addVirtualAuthenticator", {"options": options})["authenticatorId"]

    def verified(self, *, by_somebody: bool) -> None:
        """Whether the finger is the right one from now on."""
        self._cdp.send("WebAuthn.setUserVerified", {"authenticatorId": self.id, "isUserVerified": by_somebody})

    def credentials(self) -> list[dict[str, Any]]:
        """What the authenticator holds."""
        found = self._cdp.send("WebAuthn.getCredentials", {"authenticatorId": self.id})
        return list(found["credentials"])


def adds_a_passkey(page: Page, staff: Staff) -> None:
    page.goto("/your-sign-in/")
    page.get_by_role("link", name="Add a passkey").click()
    page.get_by_label("Name").fill("this machine")
    page.get_by_label("Code of your second factor").fill(a_code(staff))
    page.get_by_label("Your password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Make the passkey").click()
    expect(page.get_by_text("Added. From now on you are asked for it")).to_be_visible()


def signs_out(page: Page) -> None:
    page.locator(".plate-who summary").click()
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()


def proven(signer: Staff) -> Episode:
    episode = an_episode(assigned_to=signer)
    for days in (2, 1, 1):
        recorded(signer, episode, an_attempt("don_check", "none", help="watching", at=ago(days=days)))
    return episode


def test_a_passkey_is_made_comes_in_alone_and_signs(enter: Enter) -> None:
    staff = a_lead()
    episode = proven(staff)
    page = enter(staff)
    key = Key(page)
    adds_a_passkey(page, staff)
    assert len(key.credentials()) == 1
    signs_out(page)
    page.get_by_role("button", name="Sign in with a passkey").click()
    page.wait_for_url(lambda address: "/sign-in/" not in address)
    assert TrailRow.objects.filter(verb="sign_in.succeeded").last().detail["by"] == "passkey with user verification"  # type: ignore[union-attr]  # None fails the test as well
    page.goto(f"/people/{episode.pk}/sign-off/don_check/")
    page.get_by_role("button", name="Confirm with a passkey").click()
    expect(page.get_by_text("Signed off.", exact=True)).to_be_visible()
    assert Signature.objects.get().shown == "passkey with user verification"
    assert in_use(staff).get(kind=Kind.PASSKEY).uses > 0


def test_after_the_password_a_passkey_is_the_second_step(enter: Enter) -> None:
    staff = a_therapist()
    page = enter(staff)
    Key(page)
    adds_a_passkey(page, staff)
    signs_out(page)
    page.get_by_label("Sign-in name").fill(staff.username)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    page.get_by_role("button", name="Use a passkey").click()
    page.wait_for_url(lambda address: "/sign-in/" not in address)
    expect(page.locator(".plate-who")).to_contain_text(staff.name)


@pytest.mark.cut_off  # the browser is right to complain: nobody was verified
def test_a_passkey_whose_holder_is_not_verified_opens_nothing(enter: Enter) -> None:
    staff = a_therapist()
    page = enter(staff)
    key = Key(page)
    adds_a_passkey(page, staff)
    signs_out(page)
    key.verified(by_somebody=False)
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.locator("[data-passkey-said]")).to_contain_text("The passkey was not used")
    assert page.url.endswith("/sign-in/")


def test_a_removed_passkey_opens_nothing(enter: Enter) -> None:
    staff = a_therapist()
    page = enter(staff)
    Key(page)
    adds_a_passkey(page, staff)
    signs_out(page)
    Factor.objects.filter(kind=Kind.PASSKEY).update(removed_at=ago(), public_key=None, credential_id=None)
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("alert")).to_contain_text("not one of this account")


def test_a_copied_passkey_gives_itself_away_by_its_counter(enter: Enter) -> None:
    staff = a_therapist()
    page = enter(staff)
    Key(page)
    adds_a_passkey(page, staff)
    signs_out(page)
    Factor.objects.filter(kind=Kind.PASSKEY).update(uses=1_000_000)
    page.get_by_role("button", name="Sign in with a passkey").click()
    expect(page.get_by_role("alert")).to_contain_text("counts backwards")
    assert TrailRow.objects.filter(verb="passkey.counted_back").exists()


def test_the_pages_of_ones_own_sign_in_have_no_barriers(enter: Enter) -> None:
    staff = a_lead()
    page = enter(staff, size="tablet upright")
    row = in_use(staff).get()
    yours = ("", "app/add/", "passkey/add/", "recovery/", f"{row.pk}/rename/", f"{row.pk}/remove/")
    for address in (*(f"/your-sign-in/{one}" for one in yours), "/identities/", f"/staff/{staff.pk}/"):
        page.goto(address)
        assert in_both_schemes(page) == [], address
        assert wider_than_the_screen(page) == [], address


def test_the_second_step_has_no_barriers(enter: Enter) -> None:
    staff = a_therapist()
    page = enter(None, "/sign-in/")
    assert barriers(page) == []
    page.get_by_label("Sign-in name").fill(staff.username)
    page.get_by_label("Password", exact=True).fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_role("heading", name="second step")).to_be_visible()
    assert barriers(page) == []
