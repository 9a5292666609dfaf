"""Every table of this app at once, for a database that has none; what makes them step by step stays for the others."""

import uuid

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import caseload.episode.reach
from checklists.keeping.erase_sql import BEFORE, functions
from clinic.all_at_once import AllAtOnce
from clinic.append_only import append_only, rows_stay
from clinic.ledger.columns import bytes_check

RECORD = (
    "entry",
    "entrycontent",
    "signedevidence",
    "signature",
    "protocolversion",
    "adoption",
    "alertstep",
    "difference",
)
ERASURES = ("retention", "erasure", "erasuredecision", "erased")
STAY = ("alert", "heldentry", "refusedentry", "head", "legalhold", "archive", "sealedmark")


class Migration(migrations.Migration):
    replaces = [
        ("checklists", "0001_initial"),
        ("checklists", "0002_append_only"),
        ("checklists", "0003_protocols_stay"),
        ("checklists", "0004_alerts_stay"),
        ("checklists", "0005_adoption"),
        ("checklists", "0006_ledger"),
        ("checklists", "0007_keeping"),
        ("checklists", "0008_signatures"),
        ("checklists", "0009_judged"),
        ("checklists", "0010_sealed"),
        ("checklists", "0011_erase_knee_said"),
        ("checklists", "0012_alert_taken_back"),
        ("checklists", "0013_refused_again_as"),
    ]

    initial = True

    dependencies = [("caseload", "0005_knee_not_known"), ("clinic", "0009_ledger")]

    operations = [
        AllAtOnce(
            [
                migrations.CreateModel(
                    name="Entry",
                    fields=[
                        (
                            "number",
                            models.BigAutoField(help_text="the order of reception", primary_key=True, serialize=False),
                        ),
                        ("id", models.UUIDField(unique=True)),
                        ("kind", models.CharField(max_length=20)),
                        ("at", models.DateTimeField()),
                        ("received_at", models.DateTimeField()),
                        (
                            "door",
                            models.CharField(
                                choices=[
                                    ("page", "page"),
                                    ("api", "API"),
                                    ("import", "import"),
                                    ("worker", "worker"),
                                    ("command", "command"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("commitment", models.BinaryField(max_length=32)),
                        (
                            "by",
                            models.ForeignKey(
                                db_index=False,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "episode",
                            models.ForeignKey(
                                db_index=False,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="entries",
                                to="caseload.episode",
                            ),
                        ),
                        (
                            "sender",
                            models.ForeignKey(
                                db_index=False,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("leaf", models.BinaryField(max_length=32)),
                        ("mac", models.BinaryField(max_length=32)),
                    ],
                    options={
                        "indexes": [
                            models.Index(fields=["episode", "number"], name="entry_received"),
                            models.Index(fields=["episode", "at"], name="entry_happened"),
                            models.Index(fields=["episode", "by", "kind"], name="entry_author"),
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("door__in", ["page", "api", "import", "worker", "command"])),
                                name="entry_door",
                            ),
                            bytes_check("entry_leaf", "leaf"),
                            bytes_check("entry_mac", "mac"),
                        ],
                    },
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="Alert",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("rule", models.CharField(max_length=60)),
                        ("entry", models.UUIDField(help_text="the act")),
                        (
                            "severity",
                            models.CharField(
                                choices=[("critical", "critical"), ("major", "major"), ("minor", "minor")],
                                max_length=10,
                            ),
                        ),
                        ("by_rule", models.BooleanField(default=True)),
                        ("happened_at", models.DateTimeField()),
                        ("known_at", models.DateTimeField()),
                        ("open", models.BooleanField(default=True)),
                        ("withdrawn_at", models.DateTimeField(null=True)),
                        (
                            "withdrawn_with",
                            models.UUIDField(
                                help_text="the first received entry after which it no longer follows", null=True
                            ),
                        ),
                        ("acknowledged_at", models.DateTimeField(null=True)),
                        ("escalated_at", models.DateTimeField(null=True)),
                        (
                            "acknowledged_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "episode",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="alerts",
                                to="caseload.episode",
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(
                                condition=models.Q(("acknowledged_at__isnull", True), ("open", True)),
                                fields=["episode", "-happened_at"],
                                name="alert_to_answer",
                            ),
                            models.Index(
                                condition=models.Q(
                                    ("acknowledged_at__isnull", True), ("escalated_at__isnull", True), ("open", True)
                                ),
                                fields=["known_at"],
                                name="alert_to_escalate",
                            ),
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("severity__in", ["critical", "major", "minor"])),
                                name="alert_severity",
                            ),
                            models.UniqueConstraint(fields=("episode", "rule", "entry"), name="alert_identity"),
                        ],
                    },
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="AlertStep",
                    fields=[
                        ("id", models.BigAutoField(primary_key=True, serialize=False)),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("raised", "raised"),
                                    ("withdrawn", "withdrawn"),
                                    ("raised_again", "raised again"),
                                    ("acknowledged", "acknowledged"),
                                    ("taken_back", "answer taken back"),
                                    ("escalated", "escalated to the lead"),
                                ],
                                max_length=14,
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        ("entry", models.UUIDField(help_text="the entry with whose arrival it happened", null=True)),
                        (
                            "text",
                            models.CharField(
                                blank=True, help_text="what was done, or why an answer is taken back", max_length=2000
                            ),
                        ),
                        (
                            "alert",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="steps", to="checklists.alert"
                            ),
                        ),
                        (
                            "by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "kind__in",
                                        [
                                            "raised",
                                            "withdrawn",
                                            "raised_again",
                                            "acknowledged",
                                            "taken_back",
                                            "escalated",
                                        ],
                                    )
                                ),
                                name="alert_step_kind",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Deadline",
                    fields=[
                        ("id", models.BigAutoField(primary_key=True, serialize=False)),
                        ("rule", models.CharField(max_length=60)),
                        ("entry", models.UUIDField()),
                        ("at", models.DateTimeField()),
                        ("due_at", models.DateTimeField()),
                        ("severity", models.CharField(max_length=10)),
                        (
                            "met_at",
                            models.DateTimeField(
                                help_text="when it was seen to be met, or no longer follows", null=True
                            ),
                        ),
                        ("reported_at", models.DateTimeField(null=True)),
                        (
                            "episode",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="deadlines",
                                to="caseload.episode",
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(
                                condition=models.Q(("met_at__isnull", True), ("reported_at__isnull", True)),
                                fields=["due_at"],
                                name="deadline_open",
                            )
                        ],
                        "constraints": [
                            models.UniqueConstraint(fields=("episode", "rule", "entry"), name="deadline_once")
                        ],
                    },
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="EntryContent",
                    fields=[
                        (
                            "entry",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                primary_key=True,
                                related_name="content",
                                serialize=False,
                                to="checklists.entry",
                                to_field="id",
                            ),
                        ),
                        ("body", models.TextField()),
                        ("salt", models.BinaryField(max_length=16)),
                    ],
                ),
                migrations.CreateModel(
                    name="SignedEvidence",
                    fields=[
                        (
                            "entry",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                primary_key=True,
                                related_name="signed_evidence",
                                serialize=False,
                                to="checklists.entry",
                                to_field="id",
                            ),
                        ),
                        ("skill", models.CharField(max_length=60)),
                        ("statement", models.TextField()),
                        ("evidence", models.TextField(help_text="canonical JSON (RFC 8785)")),
                        ("digest", models.CharField(max_length=64)),
                        ("protocol", models.CharField(max_length=60)),
                        ("signer_name", models.CharField(help_text="as it was when it was signed", max_length=120)),
                        ("countersign_reason", models.CharField(blank=True, max_length=400)),
                        (
                            "countersigner",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                ),
                migrations.CreateModel(
                    name="HeldEntry",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("entry", models.UUIDField(help_text="the id that it will have in the record", unique=True)),
                        ("received_at", models.DateTimeField()),
                        (
                            "door",
                            models.CharField(
                                choices=[
                                    ("page", "page"),
                                    ("api", "API"),
                                    ("import", "import"),
                                    ("worker", "worker"),
                                    ("command", "command"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("raw", models.TextField()),
                        ("reason", models.CharField(max_length=400)),
                        ("settled_at", models.DateTimeField(null=True)),
                        ("released", models.BooleanField(null=True)),
                        (
                            "episode",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="held_entries",
                                to="caseload.episode",
                            ),
                        ),
                        (
                            "sender",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "settled_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="Notice",
                    fields=[
                        ("id", models.BigAutoField(primary_key=True, serialize=False)),
                        ("topic", models.CharField(max_length=60)),
                        (
                            "severity",
                            models.CharField(
                                choices=[("critical", "critical"), ("major", "major"), ("minor", "minor")],
                                max_length=10,
                            ),
                        ),
                        ("subject_id", models.CharField(help_text="what to open", max_length=80)),
                        ("dedupe_key", models.CharField(max_length=200)),
                        ("made_at", models.DateTimeField()),
                        ("mailed_at", models.DateTimeField(null=True)),
                        ("read_at", models.DateTimeField(null=True)),
                        (
                            "episode",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="caseload.episode",
                            ),
                        ),
                        (
                            "staff",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="notices",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(
                                condition=models.Q(("read_at__isnull", True)),
                                fields=["staff", "-made_at"],
                                name="notice_unread",
                            )
                        ],
                        "constraints": [models.UniqueConstraint(fields=("staff", "dedupe_key"), name="notice_once")],
                    },
                ),
                migrations.CreateModel(
                    name="ProtocolVersion",
                    fields=[
                        ("id", models.BigAutoField(primary_key=True, serialize=False)),
                        ("key", models.CharField(max_length=40)),
                        ("version", models.PositiveIntegerField()),
                        (
                            "digest",
                            models.CharField(
                                help_text="SHA-256 of the canonical document (RFC 8785), hexadecimal", max_length=64
                            ),
                        ),
                        ("document", models.TextField()),
                        ("stored_at", models.DateTimeField()),
                    ],
                    options={
                        "constraints": [
                            models.UniqueConstraint(fields=("key", "version"), name="protocol_version_once")
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Head",
                    fields=[
                        (
                            "episode",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                primary_key=True,
                                related_name="head",
                                serialize=False,
                                to="caseload.episode",
                            ),
                        ),
                        ("snapshot", models.BinaryField()),
                        ("board", models.JSONField(default=dict)),
                        ("stale_at", models.DateTimeField(null=True)),
                        ("last_at", models.DateTimeField(help_text="when the last fact in order happened", null=True)),
                        ("entries", models.PositiveIntegerField(default=0)),
                        ("updated_at", models.DateTimeField()),
                        (
                            "protocol",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="checklists.protocolversion",
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(
                                condition=models.Q(("stale_at__isnull", False)), fields=["stale_at"], name="head_stale"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="RefusedEntry",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("received_at", models.DateTimeField()),
                        (
                            "door",
                            models.CharField(
                                choices=[
                                    ("page", "page"),
                                    ("api", "API"),
                                    ("import", "import"),
                                    ("worker", "worker"),
                                    ("command", "command"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("raw", models.TextField()),
                        ("error", models.TextField()),
                        (
                            "urgent",
                            models.BooleanField(
                                default=False, help_text="a fall or an unsafe attempt: before the lead at once"
                            ),
                        ),
                        ("settled_at", models.DateTimeField(null=True)),
                        (
                            "episode",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="refused_entries",
                                to="caseload.episode",
                            ),
                        ),
                        (
                            "sender",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "settled_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("again_as", models.UUIDField(help_text="the entry as which it was recorded again", null=True)),
                    ],
                ),
                migrations.CreateModel(
                    name="Adoption",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("adopted_at", models.DateTimeField()),
                        ("adopter_name", models.CharField(help_text="as it was on that day", max_length=120)),
                        ("statement", models.TextField()),
                        (
                            "shown",
                            models.TextField(
                                help_text="canonical JSON (RFC 8785) of the thresholds as they stood on the page"
                            ),
                        ),
                        ("digest", models.CharField(help_text="SHA-256 of `shown`, hexadecimal", max_length=64)),
                        (
                            "adopted_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "protocol",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="adoption",
                                to="checklists.protocolversion",
                            ),
                        ),
                    ],
                ),
                migrations.CreateModel(
                    name="Retention",
                    fields=[
                        ("id", models.BigAutoField(primary_key=True, serialize=False)),
                        ("years", models.PositiveSmallIntegerField(help_text="empty: kept for ever", null=True)),
                        ("reason", models.CharField(help_text="the law or policy that it follows", max_length=400)),
                        ("set_at", models.DateTimeField()),
                        (
                            "set_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="retentions", to="clinic.site"
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("years__isnull", True), ("years__range", (1, 150)), _connector="OR"
                                ),
                                name="retention_years",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="LegalHold",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("reason", models.CharField(max_length=400)),
                        ("placed_at", models.DateTimeField()),
                        ("lifted_at", models.DateTimeField(null=True)),
                        ("lift_reason", models.CharField(blank=True, max_length=400)),
                        (
                            "lifted_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "person",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="legal_holds",
                                to="caseload.person",
                            ),
                        ),
                        (
                            "placed_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(
                                condition=models.Q(("lifted_at__isnull", True)), fields=["person"], name="hold_in_force"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Archive",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("why", models.CharField(max_length=400)),
                        ("asked_at", models.DateTimeField()),
                        ("step", models.CharField(blank=True, help_text="what the worker is at", max_length=80)),
                        ("done", models.PositiveIntegerField(default=0)),
                        ("total", models.PositiveIntegerField(default=0)),
                        ("made_at", models.DateTimeField(null=True)),
                        ("size", models.PositiveBigIntegerField(null=True)),
                        (
                            "digest",
                            models.CharField(blank=True, help_text="SHA-256 of the file, hexadecimal", max_length=64),
                        ),
                        ("taken_at", models.DateTimeField(null=True)),
                        (
                            "dropped_at",
                            models.DateTimeField(help_text="when the file went without having been taken", null=True),
                        ),
                        (
                            "asked_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "person",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="archives",
                                to="caseload.person",
                            ),
                        ),
                    ],
                ),
                migrations.CreateModel(
                    name="ArchiveFile",
                    fields=[
                        (
                            "archive",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                primary_key=True,
                                related_name="file",
                                serialize=False,
                                to="checklists.archive",
                            ),
                        ),
                        ("content", models.BinaryField()),
                    ],
                ),
                migrations.CreateModel(
                    name="Erasure",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("ground", models.CharField(help_text="the provision of law that demands it", max_length=200)),
                        (
                            "reason",
                            models.CharField(help_text="stays for ever: no word about the person", max_length=400),
                        ),
                        (
                            "overrides_retention",
                            models.BooleanField(default=False, help_text="the ground demands it before retention ends"),
                        ),
                        ("asked_at", models.DateTimeField()),
                        (
                            "asked_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "person",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="erasures",
                                to="caseload.person",
                            ),
                        ),
                    ],
                ),
                migrations.CreateModel(
                    name="ErasureDecision",
                    fields=[
                        (
                            "erasure",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                primary_key=True,
                                related_name="decision",
                                serialize=False,
                                to="checklists.erasure",
                            ),
                        ),
                        ("confirmed", models.BooleanField()),
                        ("reason", models.CharField(blank=True, help_text="why it was turned down", max_length=400)),
                        ("decided_at", models.DateTimeField()),
                        (
                            "decided_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                ),
                migrations.CreateModel(
                    name="Erased",
                    fields=[
                        (
                            "erasure",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                primary_key=True,
                                related_name="erased",
                                serialize=False,
                                to="checklists.erasure",
                            ),
                        ),
                        ("at", models.DateTimeField()),
                        ("counts", models.JSONField(help_text="table → rows that went or were emptied")),
                    ],
                ),
                migrations.CreateModel(
                    name="Signature",
                    fields=[
                        (
                            "entry",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                primary_key=True,
                                related_name="signature",
                                serialize=False,
                                to="checklists.entry",
                                to_field="id",
                            ),
                        ),
                        ("text", models.TextField(help_text="the statement: canonical JSON (RFC 8785)")),
                        (
                            "digest",
                            models.CharField(help_text="SHA-256 of the text, which the trail names too", max_length=64),
                        ),
                        ("signer_name", models.CharField(help_text="as it was when it was signed", max_length=120)),
                        (
                            "meaning",
                            models.CharField(
                                choices=[
                                    ("authorship", "authorship"),
                                    ("review", "review"),
                                    ("approval", "approval"),
                                    ("responsibility", "responsibility"),
                                ],
                                max_length=20,
                            ),
                        ),
                        ("signed_at", models.DateTimeField()),
                        ("shown", models.CharField(help_text="how the signer had shown who they were", max_length=60)),
                        ("countersigner_name", models.CharField(blank=True, max_length=120)),
                        ("countersigner_shown", models.CharField(blank=True, max_length=60)),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("meaning__in", ["authorship", "review", "approval", "responsibility"])
                                ),
                                name="signature_meaning",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Tally",
                    fields=[
                        ("id", models.BigAutoField(primary_key=True, serialize=False)),
                        ("day", models.DateField()),
                        (
                            "outcome",
                            models.CharField(
                                choices=[
                                    ("same", "the same after all"),
                                    ("other_record", "over another record: not to be compared"),
                                    ("different", "different"),
                                ],
                                max_length=12,
                            ),
                        ),
                        ("many", models.PositiveIntegerField(default=0)),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("outcome__in", ["same", "other_record", "different"])),
                                name="judged_outcome",
                            ),
                            models.UniqueConstraint(fields=("day", "outcome"), name="tally_once_a_day"),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Difference",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        (
                            "entry",
                            models.UUIDField(
                                help_text="the entry of which it was said; each is a case once", unique=True
                            ),
                        ),
                        ("number", models.BigIntegerField(help_text="of that entry: the record up to it is the case")),
                        ("claimed", models.JSONField(help_text="what the tablet said: after, with, alerts, core")),
                        (
                            "found",
                            models.JSONField(help_text="the alerts that the server's core says: rule, entry, severity"),
                        ),
                        ("core", models.CharField(help_text="the version of the core on the tablet", max_length=80)),
                        ("digest", models.CharField(help_text="of the protocol", max_length=64)),
                        ("history", models.CharField(help_text="SHA-256 of the case's lines", max_length=64)),
                        ("found_at", models.DateTimeField()),
                        (
                            "episode",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="differences",
                                to="caseload.episode",
                            ),
                        ),
                        (
                            "protocol",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="checklists.protocolversion",
                            ),
                        ),
                        (
                            "sender",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "indexes": [models.Index(fields=["-found_at"], name="difference_newest")],
                    },
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="SealedMark",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        (
                            "mark",
                            models.CharField(
                                help_text="the id that it has in the record, as the tablet said", max_length=40
                            ),
                        ),
                        (
                            "key",
                            models.CharField(help_text="which of the clinic's keys it was sealed for", max_length=10),
                        ),
                        ("enc", models.BinaryField()),
                        ("box", models.BinaryField()),
                        (
                            "digest",
                            models.CharField(
                                help_text="of all that was brought: the same again is the same", max_length=64
                            ),
                        ),
                        ("brought_at", models.DateTimeField()),
                        (
                            "error",
                            models.CharField(blank=True, help_text="why the record did not take it", max_length=400),
                        ),
                        ("settled_at", models.DateTimeField(null=True)),
                        (
                            "outcome",
                            models.CharField(
                                blank=True,
                                choices=[
                                    ("recorded", "recorded"),
                                    ("held", "waits for a lead"),
                                    ("dropped", "dropped"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("reason", models.CharField(blank=True, max_length=400)),
                        (
                            "author",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="sealed_marks",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "brought_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "episode",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to="caseload.episode",
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(
                                condition=models.Q(("settled_at__isnull", True)),
                                fields=["author"],
                                name="sealed_waiting",
                            )
                        ],
                        "constraints": [
                            models.UniqueConstraint(fields=("author", "digest"), name="sealed_once"),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("outcome", ""), ("settled_at__isnull", True)),
                                    models.Q(
                                        ("outcome__in", ["recorded", "held", "dropped"]), ("settled_at__isnull", False)
                                    ),
                                    _connector="OR",
                                ),
                                name="sealed_outcome",
                            ),
                        ],
                    },
                ),
                *(append_only(f"checklists_{name}") for name in (*RECORD, *ERASURES)),
                migrations.RunSQL("REVOKE INSERT ON checklists_erased FROM clinic_app", migrations.RunSQL.noop),
                *(rows_stay(f"checklists_{name}") for name in STAY),
                migrations.RunSQL(functions(), BEFORE),
            ]
        )
    ]
