"""Notices: news for one member of staff, made once each, on the page within seconds and by e-mail that says next to
nothing."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.conf import settings
from django.core.mail import EmailMessage
from django.db import transaction
from django.utils.translation import gettext as _

from checklists.alerts.models import Notice
from checklists.alerts.severity import Severity
from clinic.language import tags
from clinic.outbox.post import publish

# where the news is read; all other news stands with the alerts
PAGES = {"alarm.raised": "watch", "emergency.opened": "emergency/all"}


@dataclass(frozen=True, slots=True)
class News:
    """What there is to tell. `key` makes it one: the same key again tells nobody anything. `subject`: what to open."""

    topic: str
    severity: str
    key: str
    subject: str
    episode_id: UUID | None = None


def tell(news: News, to: Iterable[UUID], at: datetime) -> int:
    """Make the notices that are not there yet, and ask for their e-mails; returns how many were new."""
    with transaction.atomic():
        rows = [
            Notice(
                staff_id=staff,
                episode_id=news.episode_id,
                topic=news.topic,
                severity=news.severity,
                subject_id=news.subject,
                dedupe_key=news.key,
                made_at=at,
            )
            for staff in sorted(set(to))
        ]
        known = set(Notice.objects.filter(dedupe_key=news.key).values_list("staff_id", flat=True))
        Notice.objects.bulk_create((row for row in rows if row.staff_id not in known), ignore_conflicts=True)
        new = Notice.objects.filter(dedupe_key=news.key, made_at=at).exclude(staff_id__in=known)
        numbers = list(new.values_list("pk", flat=True))
        for number in numbers:
            publish("notice.made", {"notice": number}, at=at, dedupe_key=f"notice.made:{number}")
    return len(numbers)


def send_mail(number: int, at: datetime) -> bool:
    """Send the e-mail of a notice and mark it sent. Sent already, or nobody to write to: False.

    Only whoever holds the lease on its outbox row calls this. A worker that dies between sending and marking makes the
    message go out again under the same message id.
    """
    notice = Notice.objects.select_related("staff", "episode").filter(pk=number, mailed_at__isnull=True).first()
    if notice is None or not notice.staff.email or not notice.staff.is_active:
        return False
    message(notice).send()
    Notice.objects.filter(pk=number).update(mailed_at=at)
    return True


def message(notice: Notice) -> EmailMessage:
    """A reference and a link, in the language of who gets it, and not a word about the person. The message id is the
    notice's: sent twice, it is one message."""
    page = PAGES.get(notice.topic, "alerts")
    host = settings.PUBLIC_ADDRESS.split("//")[-1].split("/")[0].split(":")[0]
    with tags.speaking_to(notice.staff.language):
        about = notice.episode.reference if notice.episode else _("the clinic")
        grave = Severity(notice.severity).label
        subject = _("{severity}: {about}").format(severity=grave[0].upper() + grave[1:], about=about)
        body = _("There is news about {about}. Sign in to read it:").format(about=about)
    return EmailMessage(
        subject=subject,
        body=f"{body}\n\n{settings.PUBLIC_ADDRESS}/{page}/\n",
        to=[notice.staff.email],
        headers={"Message-ID": f"<notice-{notice.pk}@{host}>", "Auto-Submitted": "auto-generated"},
    )
