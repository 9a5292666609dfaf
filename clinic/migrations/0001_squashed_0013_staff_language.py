"""Every table of this app at once, for a database that has none; what makes them step by step stays for the others."""

import uuid

import django.contrib.postgres.constraints
import django.contrib.postgres.fields
import django.contrib.postgres.fields.ranges
import django.db.models.deletion
import django.db.models.functions.comparison
from django.conf import settings
from django.contrib.postgres.operations import BtreeGistExtension, UnaccentExtension
from django.db import migrations, models

from clinic.all_at_once import AllAtOnce
from clinic.append_only import GUARD_FUNCTION, REMOVAL_FUNCTION, append_only, rows_stay
from clinic.ledger.columns import bytes_check

ONLY_ADDED_TO = ("trailrow", "ledgerleaf", "ledgernode", "checkpoint")
PEOPLE = ("staff", "registration", "authorisation", "site", "factor", "recoverycode")
STAY = (*PEOPLE, "alarm", "tablet", "sitemove", "accountreview")


class Migration(migrations.Migration):
    replaces = [
        ("clinic", "0001_initial"),
        ("clinic", "0002_append_only"),
        ("clinic", "0003_sign_in"),
        ("clinic", "0004_trail_of_subject"),
        ("clinic", "0005_staff_stay"),
        ("clinic", "0006_watch"),
        ("clinic", "0007_second_factors"),
        ("clinic", "0008_sessions"),
        ("clinic", "0009_ledger"),
        ("clinic", "0010_site_move"),
        ("clinic", "0011_account_review"),
        ("clinic", "0012_wrong_passwords"),
        ("clinic", "0013_staff_language"),
    ]

    initial = True

    dependencies = []

    operations = [
        BtreeGistExtension(),
        UnaccentExtension(),
        AllAtOnce(
            [
                migrations.CreateModel(
                    name="Site",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("name", models.CharField(max_length=80, unique=True)),
                        ("time_zone", models.CharField(default="Europe/London", max_length=40)),
                    ],
                ),
                migrations.CreateModel(
                    name="OutboxRow",
                    fields=[
                        ("number", models.BigAutoField(primary_key=True, serialize=False)),
                        ("topic", models.CharField(help_text="noun.past_tense", max_length=60)),
                        ("payload", models.JSONField()),
                        ("dedupe_key", models.CharField(max_length=200, unique=True)),
                        ("created_at", models.DateTimeField()),
                        ("due_at", models.DateTimeField()),
                        ("leased_until", models.DateTimeField(null=True)),
                        ("attempts", models.PositiveIntegerField(default=0)),
                        ("done_at", models.DateTimeField(null=True)),
                        ("last_error", models.CharField(blank=True, max_length=400)),
                    ],
                    options={
                        "indexes": [
                            models.Index(
                                condition=models.Q(("done_at__isnull", True)), fields=["due_at"], name="outbox_waiting"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Staff",
                    fields=[
                        ("password", models.CharField(max_length=128, verbose_name="password")),
                        ("last_login", models.DateTimeField(blank=True, null=True, verbose_name="last login")),
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        (
                            "reference",
                            models.CharField(
                                help_text="how the record names them, for ever", max_length=20, unique=True
                            ),
                        ),
                        ("username", models.CharField(max_length=60, unique=True)),
                        ("name", models.CharField(max_length=120)),
                        ("email", models.EmailField(blank=True, max_length=254)),
                        (
                            "minutes_per_week",
                            models.PositiveIntegerField(default=0, help_text="time for people, not for the desk"),
                        ),
                        ("is_active", models.BooleanField(default=True)),
                        ("version", models.PositiveIntegerField(default=1)),
                        ("joined_at", models.DateTimeField()),
                        ("left_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="staff", to="clinic.site"
                            ),
                        ),
                        (
                            "password_given_at",
                            models.DateTimeField(
                                blank=True,
                                help_text="set while the password is one that a lead gave, to be changed at once",
                                null=True,
                            ),
                        ),
                        (
                            "identity_check",
                            models.CharField(blank=True, help_text="how it was checked, in words", max_length=400),
                        ),
                        (
                            "identity_checked_at",
                            models.DateTimeField(blank=True, help_text="without it they sign nothing", null=True),
                        ),
                        (
                            "identity_checked_by",
                            models.ForeignKey(
                                blank=True,
                                help_text="nobody: the server's keeper",
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "let_in_by",
                            django.contrib.postgres.fields.ArrayField(
                                base_field=models.UUIDField(),
                                blank=True,
                                default=list,
                                help_text="who gave them a password or took a factor away since the last check: others make the next",
                                size=None,
                            ),
                        ),
                        (
                            "username_key",
                            models.CharField(
                                editable=False, help_text="name_key of the name", max_length=120, unique=True
                            ),
                        ),
                        (
                            "wrong_passwords",
                            models.PositiveIntegerField(
                                default=0, help_text="in a row, since the last right or new one"
                            ),
                        ),
                        (
                            "language",
                            models.CharField(
                                blank=True,
                                default="",
                                help_text="a code of settings.LANGUAGES; empty: the browser's",
                                max_length=10,
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("identity_checked_by__isnull", True),
                                    models.Q(("identity_checked_by", models.F("id")), _negated=True),
                                    _connector="OR",
                                ),
                                name="identity_checked_by_another",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="TrailRow",
                    fields=[
                        ("number", models.BigAutoField(primary_key=True, serialize=False)),
                        ("at", models.DateTimeField()),
                        ("verb", models.CharField(help_text="noun.past_tense", max_length=60)),
                        ("subject", models.CharField(help_text="what kind of thing", max_length=60)),
                        ("subject_id", models.CharField(max_length=80)),
                        (
                            "episode",
                            models.UUIDField(help_text="the episode that it concerns, where there is one", null=True),
                        ),
                        (
                            "origin",
                            models.CharField(help_text="the door and address that it came through", max_length=80),
                        ),
                        (
                            "actor",
                            models.ForeignKey(
                                db_index=False,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("detail_text", models.TextField(help_text="canonical JSON (RFC 8785)")),
                        (
                            "detail",
                            models.GeneratedField(
                                db_persist=True,
                                expression=django.db.models.functions.comparison.Cast(
                                    "detail_text", models.JSONField()
                                ),
                                output_field=models.JSONField(),
                            ),
                        ),
                        ("leaf", models.BinaryField(max_length=32)),
                        ("mac", models.BinaryField(max_length=32)),
                    ],
                    options={
                        "indexes": [
                            models.Index(fields=["-number"], name="trail_newest"),
                            models.Index(fields=["episode", "-number"], name="trail_of_episode"),
                            models.Index(fields=["actor", "-number"], name="trail_of_actor"),
                            models.Index(fields=["subject_id", "-number"], name="trail_of_subject"),
                        ],
                        "constraints": [
                            bytes_check("trail_leaf", "leaf"),
                            bytes_check("trail_mac", "mac"),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Authorisation",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        (
                            "feature",
                            models.CharField(
                                choices=[
                                    ("lock", "manual lock"),
                                    ("free_swing", "free-swing mode"),
                                    ("yielding", "yielding"),
                                ],
                                max_length=20,
                            ),
                        ),
                        ("starts_on", models.DateField()),
                        ("expires_on", models.DateField()),
                        ("withdrawn_at", models.DateTimeField(blank=True, null=True)),
                        (
                            "granted_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="authorisations_granted",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "staff",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="authorisations",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("feature__in", ["lock", "free_swing", "yielding"])),
                                name="authorisation_feature",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("expires_on__gte", models.F("starts_on"))),
                                name="authorisation_ends_after_start",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Registration",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("number", models.CharField(max_length=40)),
                        ("starts_on", models.DateField()),
                        ("expires_on", models.DateField()),
                        (
                            "staff",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="registrations",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("expires_on__gte", models.F("starts_on"))),
                                name="registration_ends_after_start",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="RoleTerm",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        (
                            "role",
                            models.CharField(
                                choices=[
                                    ("clinic_lead", "clinic lead"),
                                    ("therapist", "therapist"),
                                    ("prosthetist", "prosthetist"),
                                    ("assistant", "assistant"),
                                    ("records_officer", "records officer"),
                                ],
                                max_length=20,
                            ),
                        ),
                        ("period", django.contrib.postgres.fields.ranges.DateRangeField()),
                        (
                            "staff",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="role_terms",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "role__in",
                                        ["clinic_lead", "therapist", "prosthetist", "assistant", "records_officer"],
                                    )
                                ),
                                name="role_term_role",
                            ),
                            django.contrib.postgres.constraints.ExclusionConstraint(
                                expressions=[(models.F("staff"), "="), (models.F("role"), "="), ("period", "&&")],
                                name="role_term_once",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SignInAttempt",
                    fields=[
                        ("id", models.BigAutoField(primary_key=True, serialize=False)),
                        ("key", models.CharField(help_text="digest of the name", max_length=64)),
                        ("address", models.CharField(blank=True, max_length=45)),
                        ("at", models.DateTimeField()),
                    ],
                    options={
                        "indexes": [
                            models.Index(fields=["key", "-at"], name="attempt_of_name"),
                            models.Index(fields=["address", "-at"], name="attempt_from_address"),
                            models.Index(fields=["at"], name="attempt_age"),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Beat",
                    fields=[
                        ("name", models.CharField(max_length=40, primary_key=True, serialize=False)),
                        ("at", models.DateTimeField()),
                        ("detail", models.JSONField(default=dict, help_text="what the Watch page says beside it")),
                    ],
                ),
                migrations.CreateModel(
                    name="Alarm",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("kind", models.CharField(help_text="noun.past_tense", max_length=60)),
                        (
                            "key",
                            models.CharField(
                                help_text="the same key again, while open, is the same alarm", max_length=200
                            ),
                        ),
                        (
                            "text",
                            models.CharField(
                                help_text="a plain sentence: what was found and what to do", max_length=2000
                            ),
                        ),
                        ("raised_at", models.DateTimeField()),
                        ("settled_at", models.DateTimeField(null=True)),
                        ("settled_text", models.CharField(blank=True, help_text="what came of it", max_length=2000)),
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
                    options={
                        "indexes": [models.Index(fields=["-raised_at"], name="alarm_newest")],
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("settled_at__isnull", True)),
                                fields=("key",),
                                name="alarm_open_once",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Factor",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        (
                            "kind",
                            models.CharField(
                                choices=[("totp", "one-time codes from an app"), ("passkey", "passkey")], max_length=10
                            ),
                        ),
                        ("name", models.CharField(help_text="what its owner calls it", max_length=60)),
                        ("added_at", models.DateTimeField()),
                        ("used_at", models.DateTimeField(null=True)),
                        ("secret", models.BinaryField(help_text="sealed: clinic.staff.factors.vault", null=True)),
                        (
                            "last_step",
                            models.BigIntegerField(
                                help_text="the time step of the last code: none up to it is good", null=True
                            ),
                        ),
                        ("failures", models.PositiveIntegerField(default=0, help_text="wrong codes in a row")),
                        ("credential_id", models.BinaryField(null=True)),
                        (
                            "public_key",
                            models.BinaryField(
                                help_text="the passkey's attested credential data (WebAuthn)", null=True
                            ),
                        ),
                        (
                            "uses",
                            models.BigIntegerField(
                                default=0, help_text="the passkey's own counter, where it keeps one"
                            ),
                        ),
                        ("removed_at", models.DateTimeField(null=True)),
                        ("removal_reason", models.CharField(blank=True, max_length=400)),
                        (
                            "removed_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "staff",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="factors",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(
                                condition=models.Q(("removed_at__isnull", True)), fields=["staff"], name="factor_in_use"
                            )
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["totp", "passkey"])), name="factor_kind"
                            ),
                            models.UniqueConstraint(fields=("credential_id",), name="passkey_once"),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(
                                        ("public_key__isnull", True),
                                        ("removed_at__isnull", False),
                                        ("secret__isnull", True),
                                    ),
                                    models.Q(("kind", "totp"), ("removed_at__isnull", True), ("secret__isnull", False)),
                                    models.Q(
                                        ("credential_id__isnull", False),
                                        ("kind", "passkey"),
                                        ("public_key__isnull", False),
                                        ("removed_at__isnull", True),
                                    ),
                                    _connector="OR",
                                ),
                                name="factor_in_use_is_whole",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="RecoveryCode",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("digest", models.CharField(max_length=64, unique=True)),
                        ("made_at", models.DateTimeField()),
                        ("used_at", models.DateTimeField(null=True)),
                        ("void_at", models.DateTimeField(null=True)),
                        (
                            "staff",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="recovery_codes",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(
                                condition=models.Q(("used_at__isnull", True), ("void_at__isnull", True)),
                                fields=["staff"],
                                name="recovery_good",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Pin",
                    fields=[
                        (
                            "staff",
                            models.OneToOneField(
                                on_delete=django.db.models.deletion.PROTECT,
                                primary_key=True,
                                related_name="pin",
                                serialize=False,
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        ("digest", models.CharField(max_length=256)),
                        ("set_at", models.DateTimeField()),
                        ("used_at", models.DateTimeField(null=True)),
                        ("failures", models.PositiveSmallIntegerField(default=0, help_text="wrong ones in a row")),
                        (
                            "locked_at",
                            models.DateTimeField(help_text="until they sign in with their password", null=True),
                        ),
                    ],
                ),
                migrations.CreateModel(
                    name="StaffSession",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("door", models.CharField(choices=[("page", "browser"), ("token", "programme")], max_length=8)),
                        ("assurance", models.PositiveSmallIntegerField(help_text="clinic.access.assurance.Assurance")),
                        (
                            "token",
                            models.CharField(
                                blank=True, help_text="a programme's: digest of its token", max_length=128
                            ),
                        ),
                        ("began_at", models.DateTimeField()),
                        ("seen_at", models.DateTimeField()),
                        ("address", models.CharField(blank=True, max_length=45)),
                        ("agent", models.CharField(blank=True, help_text="kind of device, as it says", max_length=80)),
                        ("ended_at", models.DateTimeField(null=True)),
                        ("ended_why", models.CharField(blank=True, max_length=40)),
                        (
                            "staff",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="sessions",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "tablet",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="sessions",
                                to="clinic.tablet",
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(fields=["staff", "-seen_at"], name="session_of_staff"),
                            models.Index(
                                condition=models.Q(("ended_at__isnull", True)),
                                fields=["tablet"],
                                name="session_on_tablet",
                            ),
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("door__in", ["page", "token"])), name="session_door"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("assurance__in", [1, 2, 3])), name="session_assurance"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("assurance__gt", 1), ("tablet__isnull", False), _connector="OR"),
                                name="session_by_pin_on_a_tablet",
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("token", ""), _negated=True),
                                fields=("token",),
                                name="session_of_token",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Tablet",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("name", models.CharField(max_length=60)),
                        ("added_at", models.DateTimeField()),
                        (
                            "code",
                            models.CharField(blank=True, help_text="digest of the code that enrols it", max_length=64),
                        ),
                        ("code_until", models.DateTimeField(blank=True, null=True)),
                        (
                            "secret",
                            models.CharField(blank=True, help_text="digest of what the device holds", max_length=64),
                        ),
                        ("enrolled_at", models.DateTimeField(blank=True, null=True)),
                        ("agent", models.CharField(blank=True, help_text="kind of device, as it says", max_length=80)),
                        ("seen_at", models.DateTimeField(blank=True, null=True)),
                        ("revoked_at", models.DateTimeField(blank=True, null=True)),
                        ("revoked_why", models.CharField(blank=True, max_length=400)),
                        (
                            "added_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "revoked_by",
                            models.ForeignKey(
                                blank=True,
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="tablets", to="clinic.site"
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("code", ""), _negated=True),
                                fields=("code",),
                                name="tablet_code_once",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("enrolled_at__isnull", True),
                                    models.Q(("secret", ""), _negated=True),
                                    _connector="OR",
                                ),
                                name="tablet_enrolled_holds_a_secret",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="LedgerLeaf",
                    fields=[
                        ("position", models.BigIntegerField(primary_key=True, serialize=False)),
                        ("source", models.SmallIntegerField()),
                        ("number", models.BigIntegerField(help_text="of the row in its table")),
                        ("leaf", models.BinaryField(max_length=32)),
                    ],
                    options={
                        "constraints": [
                            models.UniqueConstraint(fields=("source", "number"), name="ledger_row_once"),
                            bytes_check("ledger_leaf", "leaf"),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="LedgerNode",
                    fields=[
                        (
                            "pk",
                            models.CompositePrimaryKey(
                                "level", "index", blank=True, editable=False, primary_key=True, serialize=False
                            ),
                        ),
                        ("level", models.SmallIntegerField()),
                        ("index", models.BigIntegerField()),
                        ("hash", models.BinaryField(max_length=32)),
                    ],
                    options={
                        "constraints": [bytes_check("ledger_node", "hash")],
                    },
                ),
                migrations.CreateModel(
                    name="Checkpoint",
                    fields=[
                        ("number", models.BigAutoField(primary_key=True, serialize=False)),
                        ("size", models.BigIntegerField()),
                        ("root", models.BinaryField(max_length=32)),
                        ("at", models.DateTimeField()),
                        (
                            "edge",
                            models.BinaryField(
                                help_text="the right edge of the tree, from which it goes on (merkle.Edge)"
                            ),
                        ),
                        ("note", models.TextField(help_text="what is signed, with its signatures (note.py)")),
                    ],
                    options={
                        "indexes": [models.Index(fields=["size"], name="checkpoint_size")],
                        "constraints": [bytes_check("checkpoint_root", "root")],
                    },
                ),
                migrations.CreateModel(
                    name="LedgerGap",
                    fields=[
                        (
                            "id",
                            models.BigAutoField(
                                auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                            ),
                        ),
                        ("source", models.SmallIntegerField()),
                        ("first", models.BigIntegerField()),
                        ("last", models.BigIntegerField()),
                        (
                            "slipped_in",
                            models.BooleanField(
                                default=False, help_text="a row stands there without a MAC of ours; told once"
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("first__lte", models.F("last"))), name="gap_order"
                            ),
                            models.UniqueConstraint(fields=("source", "first"), name="gap_once"),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="SiteMove",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("on_day", models.DateField()),
                        ("planned_at", models.DateTimeField()),
                        ("done_at", models.DateTimeField(null=True)),
                        ("cancelled_at", models.DateTimeField(null=True)),
                        (
                            "planned_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="clinic.site"
                            ),
                        ),
                        (
                            "staff",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="moves",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.UniqueConstraint(
                                condition=models.Q(("cancelled_at__isnull", True), ("done_at__isnull", True)),
                                fields=("staff",),
                                name="site_move_one_at_a_time",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="AccountReview",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("at", models.DateTimeField()),
                        ("findings", models.PositiveIntegerField()),
                        ("note", models.CharField(max_length=2000)),
                        (
                            "by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "indexes": [models.Index(fields=["-at"], name="account_review_newest")],
                    },
                ),
                GUARD_FUNCTION,
                REMOVAL_FUNCTION,
                *(append_only(f"clinic_{name}") for name in ONLY_ADDED_TO),
                *(rows_stay(f"clinic_{name}") for name in STAY),
            ]
        ),
    ]
