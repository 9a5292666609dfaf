"""Every text that the code marks is translated, nothing that somebody reads is left unmarked, and what pages and
tablets read is what the translators wrote."""

from __future__ import annotations

import json
import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from django.conf import settings

from clinic.language.catalogue import kept, script, work
from clinic.language.catalogue.extract import texts_of
from clinic.language.catalogue.faults import contradictions, faults_of
from clinic.run.places import ROOT
from tests.core_js.node import NODE
from tests.web.unmarked import in_script, in_template

LANGUAGES = [code for code, _ in settings.LANGUAGES if code != settings.LANGUAGE_CODE]
# Scripts whose English is meant, and why.
NOT_MARKED = {
    "checklists/static/checklists/verify/": "says sentence by sentence what verify.py of the same bundle says",
    "checklists/static/checklists/core/": "the core speaks English, as the record does",
    "checklists/static/checklists/words/sentences.js": "a table of texts, every one of which is extracted",
    "clinic/static/clinic/words/": "the catalogues themselves",
    "clinic/static/clinic/js/htmx-": "not ours",
}


@pytest.fixture(scope="module", params=LANGUAGES)
def language(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def test_the_catalogues_are_those_of_the_code_and_compiled(language: str) -> None:
    for path, content in work.files(ROOT, language, work.APPS):
        assert path.read_bytes() == content, f"{path.relative_to(ROOT)}: run manage.py words"


def test_nothing_is_missing_doubtful_or_left_over(language: str) -> None:
    assert list(work.faults(ROOT, language)) == []


def test_a_fault_of_each_kind_is_found() -> None:
    catalog = Catalog(locale="es")
    catalog.add("{n} marks", "")
    catalog.add("Stop", "Alto", flags=["fuzzy"])
    catalog.add("{name} rests", "{nombre} descansa")
    catalog.add("Sent to <b>%(who)s</b>", "Enviado a %(who)s")
    catalog.add("Fields: ", "Campos:")
    catalog.add(("{n} day", "{n} days"), ("un día", "{n} días"))  # as it should be: one thing needs no number
    found = [re.sub(r"^x: |: .*", "", fault) for fault in faults_of(catalog, "x")]
    assert [one.split(",")[0] for one in found] == [
        *("missing", "fuzzy", "places differ", "places differ", "begins or ends with a space where English does not"),
    ]


def test_two_catalogues_that_say_one_text_differently_are_found() -> None:
    one, other = Catalog(locale="es"), Catalog(locale="es")
    one.add("Stop", "Alto")
    other.add("Stop", "Parar")
    assert len(list(contradictions([("a", one), ("b", other)]))) == 1


def _templates() -> Iterator[Path]:
    for app in work.APPS:
        yield from sorted((ROOT / app).rglob("templates/**/*.html"))


def test_no_text_of_a_template_stands_outside_a_translate_tag() -> None:
    left = [f"{path.relative_to(ROOT)}: {text}" for path in _templates() for text in in_template(path.read_text())]
    assert left == []


def test_no_text_of_a_script_stands_outside_gettext() -> None:
    left = []
    for app in work.APPS:
        for path in sorted((ROOT / app).rglob("static/**/*.js")):
            name = path.relative_to(ROOT).as_posix()
            if not name.startswith(tuple(NOT_MARKED)):
                left += [f"{name}: {text}" for text in in_script(path.read_text())]
    assert left == []


_CALL = re.compile(r'(?<![\w.])(n?p?)gettext\(\s*"((?:[^"\\]|\\.)*)"(?:\s*,\s*"((?:[^"\\]|\\.)*)")?')


@pytest.mark.parametrize("app", work.APPS)
def test_every_text_that_a_script_marks_is_extracted(app: str) -> None:
    """What reads the scripts does not see a call in a template literal that stands in another."""
    found = {text for one in texts_of(ROOT, app, "djangojs") for text in one.ids}
    left = []
    for path in sorted((ROOT / app).rglob("static/**/*.js")):
        if path.name != "gettext.js":  # its comment shows calls
            for call in _CALL.finditer(path.read_text()):
                text = call[3] if call[1] == "p" else call[2]
                if text and json.loads(f'"{text}"') not in found:
                    left.append(f"{path.name}: {text}")
    assert left == []


@pytest.mark.parametrize(
    "source",
    [
        "<p>Saved.</p>",
        '<a aria-label="Close">×</a>',
        '{% say "good" "well" %}',
        '{{ name|default:"nobody" }}',
        "<p>{% translate 'Since' %} then</p>",
    ],
)
def test_an_unmarked_text_of_a_template_is_seen(source: str) -> None:
    assert list(in_template(source))


@pytest.mark.parametrize(
    "source",
    [
        "<p>{% translate 'Saved.' %}</p>",
        '<p class="quiet small">{{ name }} · {% blocktranslate trimmed %}seen by {{ who }}{% endblocktranslate %}</p>',
        '{% say "good" _("well") %}{# Not read #}',
        '<a hx-select="#rows > tr" href="{% url \'today\' %}">→</a>',
    ],
)
def test_a_marked_one_is_let_pass(source: str) -> None:
    assert list(in_template(source)) == []


def test_the_heuristic_for_scripts_sees_what_it_should_and_no_more() -> None:
    assert list(in_script('p.textContent = "Saved.";')) == ["Saved."]
    assert list(in_script("said(`Nobody waits for ${n} days.`)")) == ["Nobody waits for ${n} days."]
    assert list(in_script('p.textContent = gettext("Saved."); // Not read by anybody')) == []
    assert list(in_script('ngettext("One mark waits.", "{n} marks wait.", n); node.className = "quiet small";')) == []


def test_a_fuzzy_text_is_not_said_and_english_stands_where_none_is() -> None:
    catalog = Catalog(locale="es")
    catalog.add("Stop", "Alto", flags=["fuzzy"])
    catalog.add("Go", "")
    assert b"Alto" not in kept.compiled(catalog)
    assert '"Stop"' not in script.module_of([catalog], "es")


def test_what_comes_back_into_the_code_comes_back_translated() -> None:
    """A text that was taken out and put in again has not to be translated anew."""
    old, none, again = Catalog(locale="es"), Catalog(), Catalog()
    old.add("Stop", "Alto", [("a.py", 0)])
    again.add("Stop", None, [("b.py", 0)])
    without = kept.brought_up_to_date(old, none)
    assert [str(gone.string) for gone in without.obsolete.values()] == ["Alto"]
    assert kept.brought_up_to_date(without, again)["Stop"].string == "Alto"


def test_the_scripts_read_their_catalogue(language: str) -> None:
    told = f"""
    const {{ gettext, ngettext, pgettext, fill }} = await import("{ROOT}/clinic/static/clinic/js/gettext.js");
    const english = [gettext("Stay signed in"), fill(ngettext("{{n}} mark", "{{n}} marks", 1), {{ n: 1 }})];
    await import("{script.path_of(ROOT, language)}");
    const one = "{{n}} alert waits for an answer", many = "{{n}} alerts wait for an answer";
    const said = [gettext("Stay signed in"), ngettext(one, many, 1), fill(ngettext(one, many, 3), {{ n: 3 }})];
    const none = [gettext("nowhere"), pgettext("x", "nowhere"), fill("{{a}} {{b}}", {{ a: 1 }})];
    console.log([...english, ...said, ...none].join("|"));
    """
    said = subprocess.run(
        [str(NODE), "--input-type=module", "-e", told], capture_output=True, text=True, check=True, timeout=60
    )
    assert said.stdout.strip() == "|".join(
        [
            *("Stay signed in", "1 mark", "Seguir con la sesión abierta", "{n} aviso espera respuesta"),
            *("3 avisos esperan respuesta", "nowhere", "nowhere", "1 {b}"),
        ]
    )
