"""What has been sealed, in which order, and under which signatures.

All of it can be made again from the rows and the checkpoints that left the machine; nothing here is believed because it
stands here. The programme may add to these tables and not change them, but for the gaps, which close.
"""

from __future__ import annotations

from typing import ClassVar

from django.db import models

from clinic.ledger.columns import bytes_check


class LedgerLeaf(models.Model):
    """A sealed row: its place in the tree, given once, for ever. `source`: the code of its table."""

    position = models.BigIntegerField(primary_key=True)
    source = models.SmallIntegerField()
    number = models.BigIntegerField(help_text="of the row in its table")
    leaf = models.BinaryField(max_length=32)

    class Meta:
        constraints: ClassVar = [
            models.UniqueConstraint(fields=["source", "number"], name="ledger_row_once"),
            bytes_check("ledger_leaf", "leaf"),
        ]


class LedgerNode(models.Model):
    """The hash of a complete subtree of 256, 65,536, … leaves (level 8, 16, …): proofs need not walk all leaves."""

    pk = models.CompositePrimaryKey("level", "index")
    level = models.SmallIntegerField()
    index = models.BigIntegerField()
    hash = models.BinaryField(max_length=32)

    class Meta:
        constraints: ClassVar = [bytes_check("ledger_node", "hash")]


class Checkpoint(models.Model):
    """The ledger at one size, signed. Two of the same size differ in their signatures only."""

    number = models.BigAutoField(primary_key=True)
    size = models.BigIntegerField()
    root = models.BinaryField(max_length=32)
    at = models.DateTimeField()
    edge = models.BinaryField(help_text="the right edge of the tree, from which it goes on (merkle.Edge)")
    note = models.TextField(help_text="what is signed, with its signatures (note.py)")

    class Meta:
        constraints: ClassVar = [bytes_check("checkpoint_root", "root")]
        indexes: ClassVar = [models.Index(fields=["size"], name="checkpoint_size")]


class LedgerGap(models.Model):
    """Numbers up to the greatest sealed one that were not there, or not ours, when the sealer came by. It looks at them
    again every time: a transaction may commit late. A number that was given up costs one row."""

    source = models.SmallIntegerField()
    first = models.BigIntegerField()
    last = models.BigIntegerField()
    slipped_in = models.BooleanField(default=False, help_text="a row stands there without a MAC of ours; told once")

    class Meta:
        constraints: ClassVar = [
            models.CheckConstraint(condition=models.Q(first__lte=models.F("last")), name="gap_order"),
            models.UniqueConstraint(fields=["source", "first"], name="gap_once"),
        ]
