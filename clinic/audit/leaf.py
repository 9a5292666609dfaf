"""A row of the trail as a leaf of the ledger."""

from clinic.ledger.sources import Kind, Source, register

TRAIL = register(
    Source(
        2,
        "clinic_trailrow",
        {
            "number": Kind.NUMBER,
            "at": Kind.INSTANT,
            "actor_id": Kind.MAYBE_UUID,
            "verb": Kind.TEXT,
            "subject": Kind.TEXT,
            "subject_id": Kind.TEXT,
            "episode": Kind.MAYBE_UUID,
            "origin": Kind.TEXT,
            "detail_text": Kind.JSON,
        },
        names={"detail_text": "detail"},
    )
)
