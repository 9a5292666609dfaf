"""People and their plans change, with a row in the trail; none of them disappears."""

from django.db import migrations

from clinic.append_only import rows_stay

PEOPLE = ("person", "weight", "referral", "episode", "pause", "assignment", "cover")
PLANS = ("visit", "plannedreview", "reminder", "adjustmentrequest", "prosthesis", "component")


class Migration(migrations.Migration):
    dependencies = [("caseload", "0001_initial"), ("clinic", "0005_staff_stay")]
    operations = [rows_stay(f"caseload_{name}") for name in (*PEOPLE, *PLANS)]
