"""Signs of life: whoever has to happen again and again says so after each success; `clinic.watch` looks at the age.

Names: "outbox", "deadlines", "seal", "verify", "backup", and whatever else gets a limit in clinic/watch/limits.py.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

import orjson
from django.db import connection

_BEAT = """
INSERT INTO clinic_beat AS beat (name, at, detail)
SELECT %(name)s, %(at)s, %(detail)s::jsonb
WHERE NOT EXISTS (SELECT FROM clinic_beat
    WHERE name = %(name)s AND at > %(at)s::timestamptz - make_interval(secs => %(every)s))
ON CONFLICT (name) DO UPDATE SET at = excluded.at, detail = excluded.detail WHERE excluded.at >= beat.at
"""


def beat(name: str, at: datetime, detail: Mapping[str, object] | None = None, *, every: float = 0) -> None:
    """Say that `name` went well at an instant. An older instant changes nothing.

    `every`: whoever beats many times a minute says after how many seconds a new beat is worth writing down.
    """
    with connection.cursor() as cursor:
        cursor.execute(
            _BEAT, {"name": name, "at": at, "detail": orjson.dumps(dict(detail or {})).decode(), "every": every}
        )
