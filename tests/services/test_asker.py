"""A command that takes something out of the house gives nothing to a name that nobody has."""

from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from clinic.audit.models import TrailRow
from tests.makers import an_episode

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("command", ["export_person", "export_proof", "export_record"])
def test_a_name_that_nobody_has_takes_nothing_out(command: str, tmp_path: Path) -> None:
    episode, path = an_episode(), tmp_path / "out"
    asked = {
        "export_person": [episode.person.number, str(path)],
        "export_proof": [episode.reference, str(path)],
        "export_record": [str(path), "--episode", episode.reference],
    }
    before = TrailRow.objects.count()
    with pytest.raises(CommandError, match=r"^Nobody signs in as nobody\.$"):
        call_command(command, *asked[command], "--as", "nobody")
    assert (path.exists(), TrailRow.objects.count()) == (False, before)
