"""A fact as it was received, as a leaf of the ledger. What it says is bound by its commitment."""

from clinic.ledger.sources import Kind, Source, register

ENTRY = register(
    Source(
        1,
        "checklists_entry",
        {
            "number": Kind.NUMBER,
            "id": Kind.UUID,
            "episode_id": Kind.UUID,
            "kind": Kind.TEXT,
            "at": Kind.INSTANT,
            "by_id": Kind.UUID,
            "received_at": Kind.INSTANT,
            "sender_id": Kind.UUID,
            "door": Kind.TEXT,
            "commitment": Kind.BYTES,
        },
    )
)
