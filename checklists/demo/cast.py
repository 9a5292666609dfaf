"""Who works in the invented clinic. Every name here is made up; no register was asked, and none would know them."""

from dataclasses import dataclass

from clinic.staff.roles import KneeFeature, Role

CLINIC = "Alder Reach"
MAIN_GYM, QUAY_STREET = "Alder Reach main gym", "Quay Street"
SITES = (MAIN_GYM, QUAY_STREET)
PASSWORD = "every step on an invented knee"  # noqa: S105 - the demo's, printed at its start, of no use anywhere else
PIN = "739164"  # of whoever records in the main gym; of no use anywhere else either
BANNER = "Demo clinic: Alder Reach, its staff and everybody in it are invented."
LOCK, FREE_SWING, YIELDING = KneeFeature.LOCK, KneeFeature.FREE_SWING, KneeFeature.YIELDING
EVERY_FEATURE = (LOCK, FREE_SWING, YIELDING)


@dataclass(frozen=True, slots=True)
class Member:
    """A member of staff. `expired` are authorisations that ran out some weeks before the first start."""

    username: str
    name: str
    role: Role
    site: str
    features: tuple[KneeFeature, ...] = ()
    expired: tuple[KneeFeature, ...] = ()
    minutes_per_week: int = 0
    tour: str = ""


STAFF = (
    Member("marit", "Marit Sandhollow", Role.CLINIC_LEAD, MAIN_GYM, EVERY_FEATURE, tour="takes referrals, shares out"),
    Member("hale", "Hale Undermost", Role.CLINIC_LEAD, QUAY_STREET, EVERY_FEATURE, tour="the second lead"),
    Member("runa", "Runa Achterling", Role.THERAPIST, MAIN_GYM, EVERY_FEATURE, (), 1500, "at the bars today"),
    Member("jonas", "Jonas Wexthorn", Role.THERAPIST, MAIN_GYM, EVERY_FEATURE, (), 1500, "a full caseload"),
    Member("lucie", "Lucie Amberwick", Role.THERAPIST, MAIN_GYM, (LOCK, YIELDING), (), 1300, "covers for Jonas"),
    Member("dele", "Dele Morrowby", Role.THERAPIST, QUAY_STREET, (YIELDING, FREE_SWING), (LOCK,), 1500, "lock expired"),
    Member("sorrel", "Sorrel Tidewick", Role.THERAPIST, QUAY_STREET, EVERY_FEATURE, (), 1300, "the other site"),
    Member("ebo", "Ebo Lanterne", Role.PROSTHETIST, MAIN_GYM, tour="the bench"),
    Member("pia", "Pia Korrin", Role.ASSISTANT, MAIN_GYM, tour="records under direction"),
    Member("fenna", "Fenna Inkersole", Role.RECORDS_OFFICER, MAIN_GYM, tour="reads the trail"),
)
LEAD, SECOND_LEAD, RUNA, JONAS, LUCIE, DELE, SORREL, PROSTHETIST, ASSISTANT, RECORDS = STAFF
WITH_PIN = (RUNA, JONAS, LUCIE, ASSISTANT)
THERAPISTS = (RUNA, JONAS, LUCIE, DELE, SORREL)


@dataclass(frozen=True, slots=True)
class SignIn:
    """What somebody types to look round as one of the staff."""

    username: str
    password: str
    name: str
    role: str
    tour: str


def demo_sign_ins() -> list[SignIn]:
    """The sign-ins that the demo prints: one each, all with the same password, which exists nowhere but in the demo."""
    return [SignIn(who.username, PASSWORD, who.name, str(Role(who.role).label), who.tour) for who in STAFF]
