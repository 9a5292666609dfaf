"""What is not done under an episode that has ended."""

from __future__ import annotations

from django.utils.translation import gettext as _

from caseload.episode.models import Episode
from clinic.errors import Conflict


def unless_closed(episode: Episode) -> None:
    """Conflict where the episode has ended. The person is loaded with it."""
    if episode.closed_at is not None:
        raise Conflict(_("The episode of {person} is closed.").format(person=episode.person.full_name))
