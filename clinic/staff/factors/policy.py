"""Who must show a second factor, and when: one table, beside POLICY in clinic/access.

Whoever has a factor is asked for it at every sign-in with a password, whatever the table says.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum
from types import MappingProxyType

from clinic.staff.roles import Role


class Moment(StrEnum):
    """When it is asked."""

    SIGN_IN = "sign_in"
    SIGN = "sign"
    COUNTERSIGN = "countersign"


EVERYBODY = frozenset(Role)
REQUIRED: Mapping[Moment, frozenset[Role]] = MappingProxyType(
    {
        Moment.SIGN_IN: frozenset({Role.CLINIC_LEAD, Role.RECORDS_OFFICER}),
        Moment.SIGN: EVERYBODY,
        Moment.COUNTERSIGN: EVERYBODY,
    }
)


def requires(roles: Iterable[Role], moment: Moment) -> bool:
    """Whether whoever holds these roles must show a second factor then."""
    return not REQUIRED[moment].isdisjoint(roles)
