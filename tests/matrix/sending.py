"""What to send so that a form or an operation has nothing to refuse but whoever sends it: made from the form on the
page, or from the operation's description."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django import forms
from django.test import Client

from clinic.staff.models import Staff
from tests.makers import PASSWORD, a_code, an_attempt, now, stamp

TEXT = "Something that can be read."
BUTTONS = {"version": "1", "state": "came", "reason": TEXT, "text": TEXT, "upto": "1", "judgement": "needed"}

# What a description cannot say: facts by their kinds, a digest, and who somebody is.
Sent = dict[str, Any]
BODIES: dict[str, Callable[[dict[str, Any]], Sent]] = {
    "api/v1/episodes/<uuid:episode_id>/entries/": lambda world: {"entries": [an_attempt()]},
    "api/v1/episodes/<uuid:episode_id>/advice/": lambda world: {"skill": "sit_stand"},
    "api/v1/episodes/<uuid:episode_id>/settings/": lambda world: {"setting": "resistance", "to": "4"},
    "api/v1/episodes/<uuid:episode_id>/moves/": lambda world: {
        "to_episode": str(world["other_episode_id"]),
        "entry_ids": [str(world["entry_id"])],
        "reason": TEXT,
    },
    "floor/<uuid:episode_id>/move/": lambda world: {
        "target": str(world["other_episode_id"]),
        "entries": [str(world["entry_id"])],
    },
    "api/v1/episodes/<uuid:episode_id>/sign-offs/<slug:skill>/": lambda world: {
        "digest": "0" * 64,
        "meaning": "approval",
        "password": PASSWORD,
        "code": TEXT,
    },
    "api/v1/episodes/<uuid:episode_id>/sign-offs/<slug:skill>/withdrawn/": lambda world: {
        "reason": TEXT,
        "password": PASSWORD,
        "code": TEXT,
    },
}
# What a form cannot say of itself: it names something that must be there.
FIELDS: dict[str, Callable[[dict[str, Any]], Sent]] = {"proof/": lambda world: {"reference": world["reference"]}}
OF_THE_CODE = ("code", "one_time_code")


def shown_by(actor: Staff, sent: Sent) -> Sent:
    """The same, with the code that the actor's own telephone shows now."""
    return {key: a_code(actor) if key in OF_THE_CODE else value for key, value in sent.items()}


def of_page(browser: Client, address: str) -> dict[str, Any]:
    """What the form on a page takes, as somebody sees it who may do everything; presses without a form otherwise."""
    answer = browser.get(f"/{address}")
    form = answer.context.get("form") if answer.context is not None else None
    if not isinstance(form, forms.BaseForm):
        return dict(BUTTONS)
    return {**BUTTONS, **{form.add_prefix(name): _typed(form, name, field) for name, field in form.fields.items()}}


def _typed(form: forms.BaseForm, name: str, field: forms.Field) -> Any:
    """One field, filled in."""
    value = form.get_initial_for_field(field, name)
    if value not in (None, ""):
        return value
    if isinstance(field, forms.ChoiceField):
        choices: Any = field.choices
        keys = [str(key) for key, words in choices if key not in ("", None) and not isinstance(words, list | tuple)]
        return keys[:1] if isinstance(field, forms.MultipleChoiceField) else (keys or [""])[-1]
    for kind, made in (
        (forms.DateField, (now() + timedelta(days=2)).date().isoformat()),
        (forms.TimeField, "10:00"),
        (forms.DateTimeField, stamp(now())),
        (forms.IntegerField, "1"),
        (forms.DecimalField, "70"),
        (forms.FloatField, "1"),
        (forms.BooleanField, "on"),
        (forms.EmailField, "somebody@alder-reach.example"),
    ):
        if isinstance(field, kind):
            return made
    return PASSWORD if "password" in name else TEXT[: getattr(field, "max_length", None)]


def of_operation(operation: dict[str, Any], schemas: dict[str, Any], world: dict[str, Any]) -> Any:
    """A body as the operation describes it."""
    content = operation.get("requestBody", {}).get("content", {}).get("application/json")
    return _made(content["schema"], schemas, world, "") if content else None


def _made(shape: dict[str, Any], schemas: dict[str, Any], world: dict[str, Any], name: str) -> Any:
    """A value of a shape: the ids of the world by their names, the first of a choice, the least of the rest."""
    if "$ref" in shape:
        return _made(schemas[shape["$ref"].rsplit("/", 1)[1]], schemas, world, name)
    for several in ("allOf", "oneOf", "anyOf"):
        if several in shape:
            return _made(shape[several][0], schemas, world, name)
    if "enum" in shape:
        return shape["enum"][0]
    kind = shape.get("type")
    kind = kind[0] if isinstance(kind, list) else kind
    if kind == "object" or "properties" in shape:
        needed = set(shape.get("required", ()))
        return {
            key: _made(part, schemas, world, key)
            for key, part in shape.get("properties", {}).items()
            if key in needed and not part.get("readOnly")
        }
    if kind == "array":
        return [_made(shape["items"], schemas, world, name)] if shape.get("minItems", 0) else []
    return _plain(kind, shape, world, name)


def _plain(kind: str | None, shape: dict[str, Any], world: dict[str, Any], name: str) -> Any:
    if kind == "boolean":
        return False
    if kind in ("integer", "number"):
        return max(1, shape.get("minimum", 1))
    by_format = {
        "uuid": str(world.get(name, world["episode_id"])),
        "date": (now() + timedelta(days=2)).date().isoformat(),
        "date-time": stamp(now()),
        "time": "10:00",
        "email": "somebody@alder-reach.example",
        "decimal": "70",
    }
    made = by_format.get(shape.get("format", ""), PASSWORD if "password" in name else TEXT)
    return made[: shape.get("maxLength", 200)]
