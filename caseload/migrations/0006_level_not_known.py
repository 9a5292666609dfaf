"""An amputation level may be not known yet when somebody is referred."""

from django.db import migrations, models

LEVELS = [
    ("knee_disarticulation", "knee disarticulation"),
    ("transfemoral", "transfemoral"),
    ("hip_disarticulation", "hip disarticulation"),
    ("bilateral", "both legs"),
    ("unknown", "not known yet"),
]


class Migration(migrations.Migration):
    dependencies = [("caseload", "0005_knee_not_known")]
    operations = [
        migrations.RemoveConstraint("referral", "referral_level"),
        migrations.AlterField("referral", "level", models.CharField(max_length=24, choices=LEVELS)),
        migrations.AddConstraint(
            "referral",
            models.CheckConstraint(condition=models.Q(level__in=[value for value, _ in LEVELS]), name="referral_level"),
        ),
    ]
