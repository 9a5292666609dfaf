"""Every signature against its entry, its evidence, the record before it and the trail. Part of every verification."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import datetime
from itertools import groupby
from typing import Any

import orjson
from django.db import connection

from checklists.signoff.selectors import VERBS
from checklists.signoff.signature import Signed, check_signature, digest_of
from clinic.ledger.verify.findings import Kind, Report
from clinic.ledger.verify.rows import Part

AT_ONCE = 200  # episodes
# Erased ones have no content and are another check's; what came as history was signed elsewhere and bears no signature.
_SIGNED = """
SELECT t.episode_id, t.number, t.id, e.reference, c.body, s.text, s.digest, s.signer_name, s.meaning, s.signed_at,
    s.shown, s.countersigner_name, s.countersigner_shown,
    v.evidence, v.digest, v.statement, v.skill, v.protocol, v.signer_name, v.countersign_reason,
    (SELECT jsonb_build_object('actor', coalesce(a.reference, '')) || r.detail_text::jsonb
        FROM clinic_trailrow r LEFT JOIN clinic_staff a ON a.id = r.actor_id
        WHERE r.episode = t.episode_id AND r.verb = ANY (%(verbs)s)
            AND r.detail_text::jsonb->>'entry' = t.id::text LIMIT 1)::text,
    l.position
FROM checklists_entry t JOIN caseload_episode e ON e.id = t.episode_id
    JOIN checklists_entrycontent c ON c.entry_id = t.id
    LEFT JOIN checklists_signature s ON s.entry_id = t.id LEFT JOIN checklists_signedevidence v ON v.entry_id = t.id
    LEFT JOIN clinic_ledgerleaf l ON l.source = 1 AND l.number = t.number
WHERE (s.entry_id IS NOT NULL OR v.entry_id IS NOT NULL
    OR (t.kind IN ('sign_off', 'sign_off_withdrawn') AND t.door <> 'import'))
    AND t.episode_id = ANY (%(episodes)s)
ORDER BY t.episode_id, t.number
"""
_EPISODES = """
SELECT DISTINCT t.episode_id FROM checklists_entry t
    LEFT JOIN clinic_ledgerleaf l ON l.source = 1 AND l.number = t.number
WHERE (t.kind IN ('sign_off', 'sign_off_withdrawn')
    OR EXISTS (SELECT FROM checklists_signature s WHERE s.entry_id = t.id)
    OR EXISTS (SELECT FROM checklists_signedevidence v WHERE v.entry_id = t.id)) {where}
"""
_COMMITMENTS = """
SELECT episode_id, number, commitment FROM checklists_entry WHERE episode_id = ANY (%s) ORDER BY episode_id, number
"""


def verify_signatures(part: Part, report: Report, tick: Callable[[int], None]) -> None:
    """All signatures of the episodes in which the part has one."""
    where = f"AND {part.where}" if part.where else ""
    with connection.cursor() as cursor:
        cursor.execute(_EPISODES.format(where=where), list(part.values))
        episodes = [row[0] for row in cursor.fetchall()]
        for start in range(0, len(episodes), AT_ONCE):
            some = episodes[start : start + AT_ONCE]
            cursor.execute(_COMMITMENTS, [some])
            before = {key: [row[1:] for row in rows] for key, rows in groupby(cursor.fetchall(), lambda row: row[0])}
            cursor.execute(_SIGNED, {"verbs": list(VERBS), "episodes": some})
            for row in cursor.fetchall():
                _one(row, before[row[0]], report)


def _one(row: tuple[Any, ...], before: Iterable[tuple[int, Any]], report: Report) -> None:
    number, key, reference, body = row[1:5]
    text, evidence, trail, position = row[5], row[13], row[20], row[21]
    where = f"entry number {number}"
    if text is None or evidence is None:
        report.add(Kind.SIGNATURE_BROKEN, f"{where} bears no signature", position)
        return
    commitments = tuple(bytes(one) for at, one in before if at < number)
    try:
        signed = Signed(
            entry=str(key),
            episode=reference,
            body=orjson.loads(body),
            signature=text,
            evidence=evidence,
            trail=orjson.loads(trail) if trail else None,
            commitments=commitments,
        )
        faults = [*check_signature(signed), *_printed(row, orjson.loads(text))]
    except (ValueError, TypeError, KeyError, AttributeError):
        faults = ["it is no text of ours"]
    if faults:
        report.add(Kind.SIGNATURE_BROKEN, f"{where}: {' '.join(faults)}", position)


def _printed(row: tuple[Any, ...], said: Mapping[str, Any]) -> list[str]:
    """What is printed of a signature stands in columns of its own: they say what the statement says."""
    text, digest, name, meaning, at, shown, second, second_shown = row[5:13]
    evidence, evidence_digest, statement, skill, protocol, evidence_name, why = row[13:20]
    other: Mapping[str, Any] = said.get("countersigner") or {}
    pairs = (
        (digest, digest_of(text)),
        (evidence_digest, digest_of(evidence)),
        ((name, evidence_name), (said["signer"]["name"],) * 2),
        (meaning, said["meaning"]),
        (at.replace(microsecond=0), datetime.fromisoformat(said["at"]).replace(microsecond=0)),  # written where it was
        (shown, said["shown"]),
        ((second, second_shown, why), (other.get("name", ""), other.get("shown", ""), other.get("reason", "")[:400])),
        ((statement, skill, protocol), (said["statement"], said["skill"], said["protocol"])),
    )
    return [] if all(stands == signed for stands, signed in pairs) else ["What is printed is not what was signed."]
