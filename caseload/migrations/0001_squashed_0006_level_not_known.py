"""Every table of this app at once, for a database that has none; what makes them step by step stays for the others."""

import uuid

import django.contrib.postgres.constraints
import django.contrib.postgres.fields
import django.contrib.postgres.fields.ranges
import django.contrib.postgres.indexes
import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

import caseload.episode.reach
from clinic.all_at_once import AllAtOnce
from clinic.append_only import rows_stay

PEOPLE = ("person", "weight", "referral", "episode", "pause", "assignment", "cover", "emergencyaccess")
PLANS = ("visit", "plannedreview", "reminder", "adjustmentrequest", "prosthesis", "component")


class Migration(migrations.Migration):
    replaces = [
        ("caseload", "0001_initial"),
        ("caseload", "0002_plans_stay"),
        ("caseload", "0003_person_erased"),
        ("caseload", "0004_emergency"),
        ("caseload", "0005_knee_not_known"),
        ("caseload", "0006_level_not_known"),
    ]

    initial = True

    dependencies = [("clinic", "0005_staff_stay")]

    operations = [
        AllAtOnce(
            [
                migrations.CreateModel(
                    name="LoadWeight",
                    fields=[
                        (
                            "phase",
                            models.CharField(
                                choices=[
                                    ("new", "first eight weeks"),
                                    ("training", "training"),
                                    ("keeping", "reviews only"),
                                    ("paused", "paused"),
                                ],
                                max_length=10,
                                primary_key=True,
                                serialize=False,
                            ),
                        ),
                        ("minutes_per_week", models.PositiveIntegerField()),
                        ("both_sides_extra", models.PositiveIntegerField(default=0)),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("phase__in", ["new", "training", "keeping", "paused"])),
                                name="load_weight_phase",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Person",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("number", models.CharField(help_text="the clinic's own number", max_length=20, unique=True)),
                        (
                            "second_identifier",
                            models.CharField(help_text="the number that the referrer knows them by", max_length=40),
                        ),
                        ("given_name", models.CharField(max_length=80)),
                        ("family_name", models.CharField(max_length=80)),
                        ("called", models.CharField(blank=True, help_text="as they wish to be called", max_length=80)),
                        ("pronoun", models.CharField(blank=True, max_length=20)),
                        ("born_on", models.DateField()),
                        ("language", models.CharField(default="en", help_text="BCP 47 tag", max_length=35)),
                        ("phone", models.CharField(blank=True, max_length=40)),
                        ("email", models.EmailField(blank=True, max_length=254)),
                        ("address", models.TextField(blank=True)),
                        ("next_of_kin", models.CharField(blank=True, max_length=200)),
                        ("version", models.PositiveIntegerField(default=1)),
                        ("created_at", models.DateTimeField()),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="clinic.site"
                            ),
                        ),
                        ("erased_at", models.DateTimeField(null=True)),
                        (
                            "erased_because",
                            models.CharField(
                                blank=True, default="", help_text="the legal ground, and the reason", max_length=700
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("number", ""), _negated=True), name="person_has_number"
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Episode",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        (
                            "reference",
                            models.CharField(help_text="how the record names it", max_length=24, unique=True),
                        ),
                        ("created_at", models.DateTimeField()),
                        ("side", models.CharField(blank=True, max_length=5)),
                        (
                            "features",
                            django.contrib.postgres.fields.ArrayField(
                                base_field=models.CharField(max_length=20), blank=True, default=list, size=None
                            ),
                        ),
                        ("opened_at", models.DateTimeField(null=True)),
                        ("closed_at", models.DateTimeField(null=True)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="clinic.site"
                            ),
                        ),
                        (
                            "person",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="episodes",
                                to="caseload.person",
                            ),
                        ),
                        (
                            "referral",
                            models.OneToOneField(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="episode",
                                to="caseload.referral",
                            ),
                        ),
                        (
                            "knee_said",
                            models.BooleanField(
                                help_text="opened with a knee that nobody knew: has the record said it since? NULL: known at once",
                                null=True,
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("side__in", ["", "left", "right", "both"])), name="episode_side"
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("closed_at__isnull", True)),
                                fields=("person",),
                                name="episode_one_open_a_person",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="PlannedReview",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("routine", "routine review"),
                                    ("fall", "after a fall"),
                                    ("setting", "after a change of setting or component"),
                                    ("away", "after time away"),
                                ],
                                default="routine",
                                max_length=10,
                            ),
                        ),
                        ("due_on", models.DateField()),
                        ("note", models.CharField(blank=True, max_length=400)),
                        ("planned_at", models.DateTimeField()),
                        ("done_at", models.DateTimeField(null=True)),
                        ("cancelled_at", models.DateTimeField(null=True)),
                        ("entry", models.UUIDField(help_text="the review in the record that settled it", null=True)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "episode",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="planned_reviews",
                                to="caseload.episode",
                            ),
                        ),
                        (
                            "planned_by",
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
                                condition=models.Q(("cancelled_at__isnull", True), ("done_at__isnull", True)),
                                fields=["due_on"],
                                name="planned_review_open",
                            )
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["routine", "fall", "setting", "away"])),
                                name="planned_review_kind",
                            )
                        ],
                    },
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="Prosthesis",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("side", models.CharField(choices=[("left", "left"), ("right", "right")], max_length=5)),
                        ("label", models.CharField(max_length=80)),
                        (
                            "resistance_low",
                            models.PositiveSmallIntegerField(
                                default=1, help_text="lowest mark of the stance-flexion scale"
                            ),
                        ),
                        (
                            "resistance_high",
                            models.PositiveSmallIntegerField(default=9, help_text="highest mark of the scale"),
                        ),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "episode",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="prostheses",
                                to="caseload.episode",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("side__in", ["left", "right"])), name="prosthesis_side"
                            ),
                            models.UniqueConstraint(fields=("episode", "side"), name="prosthesis_one_a_side"),
                        ],
                    },
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="Component",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        (
                            "kind",
                            models.CharField(
                                choices=[
                                    ("socket", "socket"),
                                    ("liner", "liner"),
                                    ("knee", "knee"),
                                    ("foot", "foot"),
                                    ("other", "other"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("description", models.CharField(max_length=120)),
                        ("serial", models.CharField(blank=True, max_length=60)),
                        ("period", django.contrib.postgres.fields.ranges.DateRangeField()),
                        (
                            "prosthesis",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="components",
                                to="caseload.prosthesis",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("kind__in", ["socket", "liner", "knee", "foot", "other"])),
                                name="component_kind",
                            )
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Referral",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("received_on", models.DateField()),
                        ("referrer", models.CharField(blank=True, max_length=120)),
                        ("reason", models.TextField()),
                        (
                            "urgency",
                            models.CharField(
                                choices=[("routine", "routine"), ("soon", "soon"), ("urgent", "urgent")], max_length=10
                            ),
                        ),
                        (
                            "level",
                            models.CharField(
                                choices=[
                                    ("knee_disarticulation", "knee disarticulation"),
                                    ("transfemoral", "transfemoral"),
                                    ("hip_disarticulation", "hip disarticulation"),
                                    ("bilateral", "both legs"),
                                    ("unknown", "not known yet"),
                                ],
                                max_length=24,
                            ),
                        ),
                        (
                            "side",
                            models.CharField(
                                choices=[("left", "left"), ("right", "right"), ("both", "both sides")], max_length=5
                            ),
                        ),
                        (
                            "features",
                            django.contrib.postgres.fields.ArrayField(
                                base_field=models.CharField(max_length=20),
                                blank=True,
                                help_text="what the knee has; NULL where nobody knows it yet",
                                null=True,
                                size=None,
                            ),
                        ),
                        ("taken_at", models.DateTimeField()),
                        (
                            "accepted_at",
                            models.DateTimeField(help_text="when it was assigned and became an episode", null=True),
                        ),
                        ("ended_at", models.DateTimeField(null=True)),
                        ("end_reason", models.CharField(blank=True, max_length=400)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "person",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="referrals",
                                to="caseload.person",
                            ),
                        ),
                        (
                            "site",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT, related_name="+", to="clinic.site"
                            ),
                        ),
                        (
                            "taken_by",
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
                                condition=models.Q(("accepted_at__isnull", True), ("ended_at__isnull", True)),
                                fields=["received_on"],
                                name="referral_waiting",
                            )
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("urgency__in", ["routine", "soon", "urgent"])),
                                name="referral_urgency",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("side__in", ["left", "right", "both"])), name="referral_side"
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("accepted_at__isnull", True), ("ended_at__isnull", True)),
                                fields=("person",),
                                name="referral_one_waiting_a_person",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    (
                                        "level__in",
                                        [
                                            "knee_disarticulation",
                                            "transfemoral",
                                            "hip_disarticulation",
                                            "bilateral",
                                            "unknown",
                                        ],
                                    )
                                ),
                                name="referral_level",
                            ),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Reminder",
                    fields=[
                        ("id", models.BigAutoField(primary_key=True, serialize=False)),
                        (
                            "due_on",
                            models.DateField(
                                help_text="the due date that it was about: a review put off is reminded anew"
                            ),
                        ),
                        (
                            "rung",
                            models.CharField(
                                choices=[
                                    ("due_soon", "due soon"),
                                    ("due", "due"),
                                    ("overdue", "overdue"),
                                    ("escalated", "escalated to the lead"),
                                ],
                                max_length=10,
                            ),
                        ),
                        ("reached_at", models.DateTimeField()),
                        (
                            "review",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="reminders",
                                to="caseload.plannedreview",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("rung__in", ["due_soon", "due", "overdue", "escalated"])),
                                name="reminder_rung",
                            ),
                            models.UniqueConstraint(fields=("review", "due_on", "rung"), name="reminder_once"),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Visit",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("starts_at", models.DateTimeField()),
                        ("minutes", models.PositiveSmallIntegerField(default=45)),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("planned", "planned"),
                                    ("came", "came"),
                                    ("missed", "did not come"),
                                    ("cancelled", "cancelled"),
                                ],
                                default="planned",
                                max_length=10,
                            ),
                        ),
                        ("note", models.CharField(blank=True, max_length=400)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "episode",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="visits",
                                to="caseload.episode",
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
                                related_name="visits",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "indexes": [models.Index(fields=["site", "starts_at"], name="visit_of_day")],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("state__in", ["planned", "came", "missed", "cancelled"])),
                                name="visit_state",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("minutes__gte", 5), ("minutes__lte", 480)), name="visit_lasts"
                            ),
                            models.UniqueConstraint(
                                condition=models.Q(("state", "cancelled"), _negated=True),
                                fields=("episode", "starts_at"),
                                name="visit_not_twice",
                            ),
                        ],
                    },
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="Weight",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("kg", models.DecimalField(decimal_places=1, max_digits=5)),
                        ("measured_on", models.DateField()),
                        (
                            "person",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="weights",
                                to="caseload.person",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("kg__gt", 0), ("kg__lt", 400)), name="weight_is_plausible"
                            ),
                            models.UniqueConstraint(fields=("person", "measured_on"), name="weight_once_a_day"),
                        ],
                    },
                ),
                migrations.CreateModel(
                    name="Cover",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("period", django.contrib.postgres.fields.ranges.DateTimeRangeField()),
                        ("reason", models.CharField(blank=True, max_length=400)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "made_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "staff",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="covers",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "episode",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="covers",
                                to="caseload.episode",
                            ),
                        ),
                    ],
                    options={
                        "indexes": [django.contrib.postgres.indexes.GistIndex(fields=["period"], name="cover_period")],
                        "constraints": [
                            django.contrib.postgres.constraints.ExclusionConstraint(
                                expressions=[(models.F("episode"), "="), ("period", "&&")], name="cover_one_at_a_time"
                            )
                        ],
                    },
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="Assignment",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("period", django.contrib.postgres.fields.ranges.DateTimeRangeField()),
                        ("reason", models.CharField(blank=True, max_length=400)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "made_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "staff",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="assignments",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "episode",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="assignments",
                                to="caseload.episode",
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            django.contrib.postgres.indexes.GistIndex(fields=["period"], name="assignment_period")
                        ],
                        "constraints": [
                            django.contrib.postgres.constraints.ExclusionConstraint(
                                expressions=[(models.F("episode"), "="), ("period", "&&")],
                                name="assignment_one_at_a_time",
                            )
                        ],
                    },
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="AdjustmentRequest",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        (
                            "setting",
                            models.CharField(
                                choices=[
                                    ("resistance", "stance-flexion resistance"),
                                    ("alignment", "alignment"),
                                    ("socket", "socket"),
                                    ("foot", "foot"),
                                    ("knee", "knee"),
                                    ("footwear", "footwear"),
                                ],
                                max_length=12,
                            ),
                        ),
                        ("text", models.TextField()),
                        (
                            "state",
                            models.CharField(
                                choices=[
                                    ("asked", "asked"),
                                    ("seen", "seen"),
                                    ("done", "done"),
                                    ("declined", "declined"),
                                ],
                                default="asked",
                                max_length=10,
                            ),
                        ),
                        ("asked_at", models.DateTimeField()),
                        ("seen_at", models.DateTimeField(null=True)),
                        ("done_at", models.DateTimeField(null=True)),
                        ("answer", models.TextField(blank=True)),
                        ("entry", models.UUIDField(null=True)),
                        ("version", models.PositiveIntegerField(default=1)),
                        (
                            "asked_by",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "done_by",
                            models.ForeignKey(
                                null=True,
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="+",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                        (
                            "seen_by",
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
                                related_name="requests",
                                to="caseload.episode",
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(
                                condition=models.Q(("state__in", ["asked", "seen"])),
                                fields=["asked_at"],
                                name="request_open",
                            )
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("setting__in", ["resistance", "alignment", "socket", "foot", "knee", "footwear"])
                                ),
                                name="request_setting",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("state__in", ["asked", "seen", "done", "declined"])),
                                name="request_state",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    models.Q(("state__in", ["done", "declined"]), _negated=True),
                                    models.Q(("done_at__isnull", False), ("done_by__isnull", False)),
                                    _connector="OR",
                                ),
                                name="request_done_by_somebody",
                            ),
                        ],
                    },
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="Pause",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("period", django.contrib.postgres.fields.ranges.DateRangeField()),
                        ("reason", models.CharField(max_length=400)),
                        (
                            "episode",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="pauses",
                                to="caseload.episode",
                            ),
                        ),
                    ],
                    options={
                        "constraints": [
                            django.contrib.postgres.constraints.ExclusionConstraint(
                                expressions=[(models.F("episode"), "="), ("period", "&&")], name="pause_one_at_a_time"
                            )
                        ],
                    },
                    bases=(caseload.episode.reach.OfEpisode, models.Model),
                ),
                migrations.CreateModel(
                    name="EmergencyAccess",
                    fields=[
                        ("id", models.UUIDField(default=uuid.uuid4, editable=False, primary_key=True, serialize=False)),
                        ("period", django.contrib.postgres.fields.ranges.DateTimeRangeField()),
                        ("reason", models.CharField(max_length=400)),
                        (
                            "judgement",
                            models.CharField(
                                blank=True,
                                choices=[("needed", "it was needed"), ("not_needed", "it was not needed")],
                                max_length=10,
                            ),
                        ),
                        ("judged_at", models.DateTimeField(null=True)),
                        ("judged_text", models.CharField(blank=True, max_length=400)),
                        (
                            "episode",
                            models.ForeignKey(
                                on_delete=django.db.models.deletion.PROTECT,
                                related_name="emergencies",
                                to="caseload.episode",
                            ),
                        ),
                        (
                            "judged_by",
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
                                related_name="emergencies",
                                to=settings.AUTH_USER_MODEL,
                            ),
                        ),
                    ],
                    options={
                        "indexes": [
                            models.Index(fields=["staff"], name="emergency_of_staff"),
                            models.Index(
                                condition=models.Q(("judged_at__isnull", True)),
                                fields=["judged_at"],
                                name="emergency_to_judge",
                            ),
                        ],
                        "constraints": [
                            models.CheckConstraint(
                                condition=models.Q(("judgement__in", ["", "needed", "not_needed"])),
                                name="emergency_judgement",
                            ),
                            models.CheckConstraint(
                                condition=models.Q(("reason", ""), _negated=True), name="emergency_says_why"
                            ),
                            models.CheckConstraint(
                                condition=models.Q(
                                    ("judged_by__isnull", True),
                                    models.Q(("judged_by", models.F("staff")), _negated=True),
                                    _connector="OR",
                                ),
                                name="emergency_judged_by_another",
                            ),
                            django.contrib.postgres.constraints.ExclusionConstraint(
                                expressions=[(models.F("episode"), "="), (models.F("staff"), "="), ("period", "&&")],
                                name="emergency_once",
                            ),
                        ],
                    },
                ),
                migrations.RunSQL(
                    # the hour is the database's to hold, too
                    """
            ALTER TABLE caseload_emergencyaccess ADD CONSTRAINT emergency_is_an_hour CHECK (
                lower(period) IS NOT NULL AND upper(period) <= lower(period) + interval '1 hour'
            )
            """,
                    "ALTER TABLE caseload_emergencyaccess DROP CONSTRAINT emergency_is_an_hour",
                ),
                *(rows_stay(f"caseload_{name}") for name in (*PEOPLE, *PLANS)),
            ]
        )
    ]
