"""What the source may not do, read from it: each rule with its few exceptions by name, and examples that break it."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from clinic.run.places import ROOT
from tests.hardening.markup import forbidden

APPS = ("clinic", "caseload", "checklists", "api")
Rule = Callable[[ast.AST], str]


def python_files() -> list[Path]:
    return [path for app in APPS for path in sorted((ROOT / app).rglob("*.py")) if "migrations" not in path.parts]


def front_files(*endings: str) -> list[Path]:
    found = [path for app in APPS for ending in endings for path in sorted((ROOT / app).rglob(f"*{ending}"))]
    return [path for path in found if "htmx" not in path.name]


def broken(rule: Rule, source: str) -> list[str]:
    return [said for node in ast.walk(ast.parse(source)) if (said := rule(node))]


def breaches(rule: Rule, allowed: set[str] | None = None) -> dict[str, list[str]]:
    """File → what it does against a rule; files (or folders) that may are left out."""
    found = {}
    for path in python_files():
        name = str(path.relative_to(ROOT))
        if not name.startswith(tuple(allowed or ["-"])) and (said := broken(rule, path.read_text())):
            found[name] = said
    return found


def _called(node: ast.AST) -> str:
    return ast.unparse(node.func) if isinstance(node, ast.Call) else ""


def runs_text(node: ast.AST) -> str:
    """Text that is run as code, or data that is taken for objects (ASVS V1.3.2, V1.5.2)."""
    if _called(node) in ("eval", "exec", "compile", "os.system", "os.popen", "__import__"):
        return _called(node)
    names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
    names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
    return next(
        (n for n in names if n.split(".")[0] in ("pickle", "marshal", "shelve", "yaml", "xml", "lxml", "dill")), ""
    )


def through_a_shell(node: ast.AST) -> str:
    """A programme started through a shell (V1.2.5)."""
    if isinstance(node, ast.keyword) and node.arg == "shell" and ast.unparse(node.value) != "False":
        return "shell="
    return ""


def puts_text_into_sql(node: ast.AST) -> str:
    """A statement put together from text (V1.2.4)."""
    if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute) or not node.args:
        return ""
    if node.func.attr in ("raw", "extra") or _called(node) == "RawSQL":
        return ast.unparse(node)[:80]
    first = node.args[0]
    made = isinstance(first, ast.JoinedStr | ast.BinOp) or (
        isinstance(first, ast.Call)
        and isinstance(first.func, ast.Attribute)
        and first.func.attr == "format"
        and not ast.unparse(first).startswith("sql.SQL(")
    )
    return ast.unparse(node)[:80] if node.func.attr in ("execute", "executemany", "copy") and made else ""


def trusts_markup(node: ast.AST) -> str:
    """Text that is said to be safe markup (V1.2.1)."""
    return ast.unparse(node)[:80] if _called(node).endswith("mark_safe") else ""


def weak_digest(node: ast.AST) -> str:
    """A digest or cipher that is broken (V11.3.1, V11.4.1)."""
    text = ast.unparse(node) if isinstance(node, ast.Attribute | ast.Name) else ""
    return text if re.search(r"\b(md5|sha1|SHA1|MD5|ECB|DES|TripleDES|ARC4|RC4|PKCS1v15)\b", text) else ""


def weak_chance(node: ast.AST) -> str:
    """Chance that can be foretold (V11.5.1)."""
    names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
    names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
    return "random" if "random" in names else ""


def asks_elsewhere(node: ast.AST) -> str:
    """A connection to another machine (V1.3.6, V13.2.4)."""
    names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
    names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
    out = ("urllib.request", "http.client", "socket", "smtplib", "ftplib", "requests", "httpx", "urllib3")
    return next((name for name in names if name in out), "")


# Where a rule does not hold, and why nothing that was sent reaches it.
MAY_PUT_TEXT_INTO_SQL = {
    "checklists/speed/",  # tables of the bench, in a database of its own; names of columns from the code
    "clinic/access/fence.py",  # run by the owner after a migration; names of tables from the code
    "clinic/ledger/",  # columns from the code; what is asked for is given beside the statement
    "clinic/run/postgres.py",  # psycopg's own composition, held in a variable
    "clinic/audit/verifying.py",  # a condition out of those that the code has
    "checklists/record/verifying.py",  # the same
    "checklists/signoff/verifying.py",  # the same
}
MAY_TRUST_MARKUP = {
    "clinic/web/tags.py",  # drawings of our own; words are escaped there
    "caseload/templatetags/caseload_bars.py",  # drawings of numbers
    "checklists/templatetags/",  # drawings of our own
    "checklists/pictures/",  # the same
    "checklists/keeping/archive/page.py",  # a style sheet of our own, in a file that is taken out
    "clinic/staff/factors/views.py",  # a drawing of squares, made from an address by the library for it
}
MAY_ASK_ELSEWHERE = {
    "clinic/run/",  # its own servers
    "clinic/ledger/stamps.py",  # the authority for time stamps that the clinic names
    "clinic/ledger/witness",  # the witnesses that the clinic names, and the server that is one
}
MAY_USE_SHA1 = {
    "clinic/staff/factors/totp.py"
}  # HMAC of RFC 6238, as every app makes it: nobody chooses what it covers
MAY_USE_CHANCE = {"checklists/demo/", "api/fuzz/", "checklists/speed/"}  # invented people, changed examples, loads

RULES: list[tuple[Rule, set[str], list[str], list[str]]] = [
    (runs_text, set(), ["eval(x)", "import pickle", "from yaml import load", "os.system(x)"], ["re.compile('a')"]),
    (through_a_shell, set(), ["run(x, shell=True)", "run(x, shell=y)"], ["run([x])", "run(x, shell=False)"]),
    (
        puts_text_into_sql,
        MAY_PUT_TEXT_INTO_SQL,
        ["c.execute(f'SELECT {x}')", "c.execute('a' + x)", "c.execute('{}'.format(x))", "T.objects.raw(q)"],
        ["c.execute('SELECT %s', [x])", "c.execute(sql.SQL('{}').format(sql.Identifier(t)))"],
    ),
    (trusts_markup, MAY_TRUST_MARKUP, ["mark_safe(x)", "s.mark_safe(x)"], ["format_html('{}', x)"]),
    (weak_digest, MAY_USE_SHA1, ["hashlib.md5(x)", "hashes.SHA1()", "modes.ECB()"], ["hashlib.sha256(x)"]),
    (weak_chance, MAY_USE_CHANCE, ["import random", "from random import choice"], ["import secrets"]),
    (asks_elsewhere, MAY_ASK_ELSEWHERE, ["import socket", "from urllib.request import urlopen"], ["import json"]),
]  # fmt: skip  # a table, read by row


@pytest.mark.parametrize(("rule", "allowed", "bad", "good"), RULES, ids=[rule.__name__ for rule, *_ in RULES])
def test_the_source_keeps_the_rule(rule: Rule, allowed: set[str], bad: list[str], good: list[str]) -> None:
    assert all(broken(rule, line) for line in bad), "the rule finds nothing"
    assert not [line for line in good if broken(rule, line)]
    assert breaches(rule, allowed) == {}


# --- templates --------------------------------------------------------------------------------------------------------
def test_no_template_switches_escaping_off_or_holds_script_or_style() -> None:
    """V1.2.1, V1.3.7: neither `safe` nor `autoescape off`; no handler, no style attribute, nothing of another host."""
    files = front_files(".html")
    assert len(files) > 50
    loose = {
        str(path): m[0]
        for path in files
        if (m := re.search(r"\|\s*safe\b|autoescape|safeseq|\{%\s*debug", path.read_text()))
    }
    inline = {
        str(path): found
        for path in files
        if (found := [one for one in forbidden(_plain(path)) if not _of_a_file_taken_out(path, one)])
    }
    assert (loose, inline) == ({}, {})


def _plain(path: Path) -> str:
    """A template without its own tags, which a reader of markup takes for attributes."""
    return re.sub(r"\{%.*?%\}|\{\{.*?\}\}", "", path.read_text(), flags=re.DOTALL)


def _of_a_file_taken_out(path: Path, found: str) -> bool:
    """A page inside an archive or a bundle has no server behind it: its style stands in it."""
    return found in ("<style>", "<script> without src") and bool(
        {"archive", "offline", "bundle"} & {*path.parts, path.stem}
    )


# Forms whose answers stand in the address: days, verbs, ids and numbers of the clinic's own; never a name.
MAY_SEND_BY_ADDRESS = {
    "clinic/templates/trail/page.html",
    "caseload/templates/caseload/covers.html",  # which colleague is away, by a key
    "checklists/templates/bench/when.html",  # when a change was made
    "checklists/templates/proof/verify.html",  # read in the browser, sent nowhere
}


def test_no_form_sends_whom_somebody_looks_for_in_an_address() -> None:
    """V14.2.1: an address is kept by browsers, proxies and logs; a form without `post` would put a name there."""
    by_address = re.compile(r"<form(?![^>]*method=\"post\")[^>]*>")
    assert by_address.search('<form action="/people/" role="search">')
    found = {str(path.relative_to(ROOT)) for path in front_files(".html") if by_address.search(_plain(path))}
    assert found - MAY_SEND_BY_ADDRESS == set()


def test_nothing_about_anybody_goes_into_the_cache() -> None:
    """V14.2.2: counts of requests under digests, and nothing else; sessions and messages lie in the database."""
    uses = {
        str(p.relative_to(ROOT))
        for p in python_files()
        if re.search(r"django\.core\.cache|cache_page|redis", p.read_text())
    }
    assert uses <= {"clinic/web/limits.py", "clinic/settings.py", "clinic/run/valkey.py", "clinic/run/servers.py"}, uses
    settings = (ROOT / "clinic/settings.py").read_text()
    assert "SESSION_ENGINE" not in settings, "Django's own default: the database"


# --- scripts ----------------------------------------------------------------------------------------------------------
SINKS = re.compile(
    r"innerHTML|outerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function|createContextualFragment|DOMParser"
    r"|setTimeout\(\s*[\"'`]|\.srcdoc|javascript:|\bpostMessage\(|addEventListener\(\s*[\"']message|\.style\b|cssText"
    r"|importScripts|WebSocket|EventSource"
)
STORES = re.compile(r"localStorage|sessionStorage|indexedDB|\bcaches\.")


def scripts() -> Iterator[tuple[str, str]]:
    for path in front_files(".js"):
        yield str(path.relative_to(ROOT)), path.read_text()


def test_no_script_makes_markup_or_code_out_of_text() -> None:
    """V3.2.2, V1.2.3, V3.5.5, V4.4: `textContent` and elements only; no message from another window, no socket."""
    assert SINKS.search("x.innerHTML = y")
    found = {name: m[0] for name, text in scripts() if (m := SINKS.search(text)) and "offline" not in name}
    # one word between our own pages, on a channel that no other host hears: that the device's key is another
    assert found == {"clinic/static/clinic/device/vault.js": "postMessage("}


def test_scripts_ask_this_server_alone() -> None:
    """V3.6, V14.2.3: no address of another host, so nothing is told to anybody else."""
    other = re.compile(r"[\"'`](https?:)?//[a-z0-9]", re.IGNORECASE)
    assert other.search("fetch('https://elsewhere.example/')")
    found = {
        name: m[0] for name, text in scripts() if (m := other.search(re.sub(r"http://www\.w3\.org/\S+", "", text)))
    }
    assert found == {}


def test_only_the_floor_keeps_anything_in_the_browser() -> None:
    """V14.3.3: one store, whose rows about people are encrypted; what somebody likes on the Floor; static files."""
    keeps = {name for name, text in scripts() if STORES.search(text)}
    device, floor = "clinic/static/clinic/device", "checklists/static/checklists/floor"
    wanted = {f"{device}/database.js", f"{device}/worker/statics.js", f"{floor}/guard.js", f"{floor}/settings.js"}
    assert keeps == wanted


def test_style_sheets_load_nothing_from_elsewhere() -> None:
    loose = {
        str(p): m[0]
        for p in front_files(".css")
        if (m := re.search(r"@import|url\(\s*[\"']?(https?:)?//", p.read_text()))
    }
    assert loose == {}


# --- what is in the image ---------------------------------------------------------------------------------------------
def test_the_image_holds_the_programme_and_nothing_else() -> None:
    """V13.4.1, V15.2.3: no repository, no tests, no notes; read-only, without rights, as an account of its own."""
    compose = (ROOT / "docker-compose.yml").read_text()
    copied = re.findall(r"^\s+COPY (.+)$", compose, re.MULTILINE)
    assert {line.split()[0] for line in copied} == {"requirements.txt", "manage.py", *APPS}
    for line in ("USER program", "read_only: true", "cap_drop: [ALL]", "no-new-privileges:true"):
        assert line in compose
    first, *others = (ROOT / ".dockerignore").read_text().split()
    assert first == "*", "everything is left out but what is named"
    named = {name for name in others if name.startswith("!")}
    assert named == {f"!{name}" for name in ("requirements.txt", "manage.py", *APPS)}


def test_no_secret_stands_in_the_repository() -> None:
    """V13.3.1: no key, no password given in settings or Compose."""
    keys = re.compile(
        r"BEGIN [A-Z ]*PRIVATE KEY|AKIA[0-9A-Z]{16}|(SECRET_KEY|PASSWORD)\s*[:=]\s*[\"'][^\"'$\s]{12,}[\"']"
    )
    assert keys.search('SECRET_KEY = "abcdefghijklmn"')
    files = [*python_files(), ROOT / "docker-compose.yml", *front_files(".js", ".html", ".json")]
    assert {str(path.relative_to(ROOT)): m[0] for path in files if (m := keys.search(path.read_text()))} == {}
