"""The catalogues of all apps together: what their files should hold, and what is wrong with those that are kept."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from pathlib import Path

from babel.messages.catalog import Catalog

from clinic.language.catalogue import kept, script
from clinic.language.catalogue.extract import APPS, DOMAINS, template_of
from clinic.language.catalogue.faults import contradictions, faults_of

__all__ = ["APPS", "DOMAINS", "catalogs", "faults", "files"]


def catalogs(root: Path, language: str, domain: str) -> dict[str, Catalog]:
    """What is kept, by app."""
    return {app: kept.read(kept.path_of(root, app, domain, language), language) for app in APPS}


def files(root: Path, language: str, apps: Collection[str], *, tidy: bool = False) -> Iterator[tuple[Path, bytes]]:
    """Every file of these apps with the bytes that it should hold, and the catalogue of the scripts."""
    of_pages: list[Catalog] = []  # what pages say already, scripts say likewise
    for domain in DOMAINS:
        old = catalogs(root, language, domain)
        fresh = dict(old)
        for app in apps:
            others = [*(catalog for name, catalog in old.items() if name != app), *of_pages]
            fresh[app] = kept.brought_up_to_date(old[app], template_of(root, app, domain), others)
            if any(one.id for one in fresh[app]) or kept.path_of(root, app, domain, language).exists():
                yield kept.path_of(root, app, domain, language), kept.written(fresh[app], tidy=tidy)
                if domain == "django":
                    yield kept.path_of(root, app, domain, language, "mo"), kept.compiled(fresh[app])
        of_pages += fresh.values()
        if domain == "djangojs":
            yield script.path_of(root, language), script.module_of(fresh.values(), language).encode()


def faults(root: Path, language: str) -> Iterator[str]:
    """What is wrong with what is kept, app by app, and between the apps."""
    found = [
        (f"{app}/{language}/{domain}", catalog)
        for domain in DOMAINS
        for app, catalog in catalogs(root, language, domain).items()
    ]
    for name, catalog in found:
        yield from faults_of(catalog, name)
    yield from contradictions(found)
