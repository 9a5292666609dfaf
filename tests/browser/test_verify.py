"""The page that checks a bundle, in a real browser: the same words as verify.py, and nothing leaves the page."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from pytest_django.live_server_helper import LiveServer

from checklists.proof.offline.check import Line, checked, verdict
from clinic.ledger.merkle import leaf_hash
from tests.browser.looking import barriers
from tests.ledger.conftest import ledger
from tests.ledger.test_merkle_refusals import spoiled
from tests.ledger.vectors import CONSISTENCY, ENTRIES, INCLUSION, ROOTS, hashes
from tests.makers import a_records_officer
from tests.proof.bundles import Files, files_in, written
from tests.proof.conftest import made
from tests.proof.forging import TAMPERED, an_attacker, sealed_anew
from tests.proof.scene import NOTE, Made, a_world

__all__ = ["ledger", "made"]
Enter = Callable[..., Page]
WORDS = {"Holds": "holds", "Does not hold": "fails", "Missing": "open", "Note": "note"}


@pytest.fixture
def page(enter: Enter) -> Page:
    """The page, opened by somebody without an account."""
    found = enter(None, "/verify/")
    expect(found.get_by_role("button", name="Check")).to_be_enabled()
    return found


def chosen(page: Page, bundle: Path) -> list[Line]:
    """What the page says of a bundle."""
    page.evaluate("document.getElementById('outcome').hidden = true")
    page.get_by_label("The bundle (a zip file)").set_input_files([])
    page.get_by_label("The bundle (a zip file)").set_input_files(bundle)
    expect(page.locator("#outcome")).to_be_visible()
    found = page.locator("#lines > li").evaluate_all(
        "all => all.map(one => [one.children[0].textContent, one.children[1].textContent])"
    )
    return [(WORDS[word], said) for word, said in found]


def says(page: Page, files: Files, folder: Path) -> None:
    """It says what verify.py says, line by line, and ends with the same sentence."""
    lines = checked(files)
    assert chosen(page, written(folder / "bundle.zip", files)) == lines
    expect(page.locator("#sentence")).to_have_text(verdict(lines)[1])


@pytest.mark.parametrize("name", ["sign_off", "episode", "withdrawn", "unsealed"])
def test_a_bundle_is_checked_and_shown(page: Page, made: Made, tmp_path: Path, name: str) -> None:
    files: Files = getattr(made, name)
    says(page, files, tmp_path)
    expect(page.locator("#record")).to_be_visible()
    expect(page.locator("#entries dd", has_text=re.compile("^Putting on, skin and fit check$")).first).to_be_visible()
    expect(page.locator("#entries dd", has_text=re.compile("^don_check$"))).to_have_count(0)
    if name == "episode":
        expect(page.locator("#entries dd", has_text="Quietly")).to_have_text(NOTE)  # as text, not as markup


def test_every_tampering_is_found_as_verify_py_finds_it(page: Page, made: Made, tmp_path: Path) -> None:
    for name, (base, change, words) in TAMPERED.items():
        files = change(getattr(made, base))
        says(page, files, tmp_path)
        fault = page.locator("#lines > li[data-status=fails]")
        assert words in fault.inner_text(), name
        expect(page.locator("#record")).to_be_hidden()


def test_the_page_s_own_tree_takes_published_paths_and_refuses_spoiled_ones(page: Page) -> None:
    """Published vectors (tests/ledger/vectors.py), and every change to each of them."""
    cases: list[tuple[str, list[object], bool]] = []
    for (index, size), names in INCLUSION.items():
        for path, good in [(hashes(names), True), *((bad, False) for bad in spoiled(hashes(names)))]:
            leaf = leaf_hash(ENTRIES[index])
            cases.append(("included", [leaf.hex(), index, size, [one.hex() for one in path], ROOTS[size].hex()], good))
    for (first, second), names in CONSISTENCY.items():
        for path, good in [(hashes(names), True), *((bad, False) for bad in spoiled(hashes(names)))]:
            given = [first, second, [one.hex() for one in path], ROOTS[first].hex(), ROOTS[second].hex()]
            cases.append(("continued", given, good))
    cases.append(("continued", [0, 3, [], ROOTS[0].hex(), ROOTS[3].hex()], False))
    cases.append(("included", [ROOTS[1].hex(), 1, 1, [], ROOTS[1].hex()], False))
    found = page.evaluate(
        """async (cases) => {
          const at = document.querySelector('script[src*="verify/show"]').src;
          const tree = await import(new URL('tree.js', at)), { unhex } = await import(new URL('bytes.js', at));
          const read = (one) => Array.isArray(one) ? one.map(unhex) : typeof one === 'string' ? unhex(one) : one;
          return Promise.all(cases.map(([name, given]) => tree[name](...given.map(read))));
        }""",
        [[name, given] for name, given, _ in cases],
    )
    assert found == [good for _, _, good in cases]
    assert found.count(True) == len(INCLUSION) + len(CONSISTENCY)


def test_what_came_from_elsewhere_is_compared(page: Page, made: Made, tmp_path: Path) -> None:
    bundle = written(tmp_path / "bundle.zip", made.sign_off)
    (tmp_path / "kept.note").write_text(made.kept)
    (tmp_path / "later.note").write_text(made.later)
    page.get_by_text("Compare with something from elsewhere").click()
    page.get_by_label("Fingerprint of a signing key").fill(made.fingerprint.upper())
    page.get_by_label("A checkpoint that a witness").set_input_files(tmp_path / "kept.note")
    assert chosen(page, bundle) == checked(made.sign_off, made.fingerprint, made.kept)
    page.get_by_label("A checkpoint that a witness").set_input_files(tmp_path / "later.note")
    assert chosen(page, bundle) == checked(made.sign_off, made.fingerprint, made.later)
    expect(page.locator("#sentence")).to_contain_text("NOT PROVED YET")
    forged = sealed_anew(made.sign_off, lambda bundle: None, an_attacker(9, made.stolen.name))
    assert chosen(page, written(tmp_path / "forged.zip", forged)) == checked(forged, made.fingerprint, made.later)
    expect(page.locator("#sentence")).to_have_text("THIS BUNDLE DOES NOT HOLD.")


def test_a_file_that_is_no_bundle_says_so(page: Page, made: Made, tmp_path: Path) -> None:
    whole = written(tmp_path / "bundle.zip", made.episode).read_bytes()
    for content in (b"x", b"words" * 100, whole[: len(whole) // 2], whole[:100] + b"\0" + whole[101:]):
        (tmp_path / "bundle.zip").write_bytes(content)
        assert chosen(page, tmp_path / "bundle.zip") == [("fails", "bundle.zip cannot be read as a bundle.")]


def test_nothing_leaves_the_page(page: Page, made: Made, tmp_path: Path) -> None:
    """From the moment at which a bundle is chosen no request is made."""
    asked: list[str] = []
    page.context.on("request", lambda request: asked.append(request.url))
    says(page, made.sign_off, tmp_path)
    page.get_by_role("button", name="Check").click()
    page.wait_for_timeout(300)
    assert asked == []


def test_nothing_could_leave_the_page(browser: Browser, live_server: LiveServer) -> None:
    """The browser itself holds back whatever a script in the page might try."""
    context = browser.new_context(base_url=live_server.url)
    page = context.new_page()
    answer = page.goto("/verify/")
    assert answer is not None
    policy = answer.headers["content-security-policy"]
    for said in ("connect-src 'none'", "form-action 'none'", "script-src 'self'", "frame-src 'none'"):
        assert said in policy
    assert "unsafe" not in policy
    gone: list[str] = []
    page.on("requestfinished", lambda request: gone.append(request.url))
    page.evaluate(
        """async () => {
          await fetch('/health').catch(() => {});
          navigator.sendBeacon('/health', 'x');
          const form = document.createElement('form');
          Object.assign(form, { action: '/health', method: 'post', target: '_blank' });
          document.body.append(form);
          form.submit();
          await new Promise((go) => setTimeout(go, 300));
        }"""
    )
    assert gone == []
    assert len(context.pages) == 1
    context.close()


@pytest.mark.parametrize(("size", "colours"), [("tablet", "light"), ("tablet upright", "dark")])
def test_the_page_has_no_barriers(enter: Enter, made: Made, tmp_path: Path, size: str, colours: str) -> None:
    page = enter(None, "/verify/", size=size, color_scheme=colours)
    assert barriers(page) == []
    page.get_by_text("Compare with something from elsewhere").click()
    chosen(page, written(tmp_path / "bundle.zip", made.episode))
    assert barriers(page) == []
    assert page.evaluate("document.activeElement.id") == "sentence"


@pytest.mark.parametrize(("size", "colours"), [("tablet", "light"), ("tablet upright", "dark")])
def test_a_records_officer_takes_a_bundle_and_checks_it(
    enter: Enter, ledger: Path, tmp_path: Path, size: str, colours: str
) -> None:
    """From the page that makes it to the page that checks it."""
    world = a_world()
    page = enter(a_records_officer(), "/proof/", size=size, color_scheme=colours)
    assert barriers(page) == []
    page.get_by_label("About").fill("E99-0001")
    page.get_by_role("button", name="Go on").click()
    expect(page.get_by_role("alert")).to_contain_text("There is no sign-off and no episode")
    page.get_by_label("About").fill(world.episode.reference)
    page.get_by_role("button", name="Go on").click()
    assert barriers(page) == []
    page.get_by_role("radio", name="Putting on, skin and fit, signed off").check()
    with page.expect_download() as download:
        page.get_by_role("button", name="Make the bundle").click()
    download.value.save_as(tmp_path / "bundle.zip")
    page.get_by_role("link", name="the page for checking").click()
    assert chosen(page, tmp_path / "bundle.zip") == checked(files_in((tmp_path / "bundle.zip").read_bytes()))
    expect(page.locator("#sentence")).to_have_text("THIS BUNDLE HOLDS.")


def test_the_name_at_the_top_leads_back_into_the_program_as_everywhere(page: Page) -> None:
    expect(page.locator(".plate a.plate-name")).to_have_attribute("href", "/")
