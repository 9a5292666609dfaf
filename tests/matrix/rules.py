"""The rule of every door: which action of POLICY it takes, and whether it is about one person.

A door without a rule here fails the matrix. Where asking and sending differ, both stand: what is shown to whoever may
see the person, and what the button does.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from clinic.access import Action as A  # noqa: N817 - three hundred times in one table


class Kind(StrEnum):
    """What a door asks of whoever stands before it."""

    OPEN = "open"  # strangers too
    SIGNED_IN = "signed in"  # one's own account, one's own news, what is nobody's
    CLINIC = "clinic"  # an action, whomever it is about
    PERSON = "person"  # an action, within its reach to this person
    FACT = "fact"  # the same by the write path, which keeps what it does not take and answers for each fact


@dataclass(frozen=True)
class Rule:
    """A kind, and the action where it is one of POLICY."""

    kind: Kind
    action: A | None = None


def clinic(action: A) -> Rule:
    """Takes an action, whomever it is about."""
    return Rule(Kind.CLINIC, action)


def person(action: A) -> Rule:
    """Takes an action on this person."""
    return Rule(Kind.PERSON, action)


def fact(action: A) -> Rule:
    """Writes a fact of this person."""
    return Rule(Kind.FACT, action)


OPEN, SIGNED_IN = Rule(Kind.OPEN), Rule(Kind.SIGNED_IN)
_SEES, _PLAN, _REVIEW = person(A.SEE_PERSON), "people/<uuid:episode_id>/plan/", "reviews/<uuid:review_id>/"
_DEVICE = f"{_PLAN}devices/<uuid:prosthesis_id>/"
_PART = f"{_DEVICE}parts/<uuid:part_id>/"
_EPISODE, _STAFF, _STAFF_PAGE = (
    "api/v1/episodes/<uuid:episode_id>/",
    "api/v1/staff/<uuid:staff_id>/",
    "staff/<uuid:staff_id>/",
)
_MANAGES, _KEEPS = clinic(A.MANAGE_STAFF), clinic(A.KEEP_DEVICES)

# route → (asking, sending)
PAGES: dict[str, tuple[Rule, Rule]] = {
    # --- the door, and one's own account ---
    **dict.fromkeys(
        ("health", "live", "sw.js", "manifest.webmanifest", "no-signal/", "left/"),
        (OPEN, OPEN),
    ),
    **dict.fromkeys(
        ("verify/", "sign-in/", "sign-in/second/", "sign-in/passkey/", "sign-in/code-now/"),
        (OPEN, OPEN),
    ),
    **dict.fromkeys(
        ("language/", "tablet/", "tablet/<uuid:staff_id>/", "tablet/enrol/", "tablet/hand-over/"), (OPEN, OPEN)
    ),
    **dict.fromkeys(
        (
            *("sign-out/", "password/", "kept/put-away/", "your-sign-in/", "your-sign-in/app/add/"),
            *("your-sign-in/passkey/add/", "your-sign-in/passkey/ask/", "your-sign-in/passkey/new/"),
            *("your-sign-in/recovery/", "your-sign-in/<uuid:factor_id>/rename/", "sessions/", "pin/", "pin/give-up/"),
            *("your-sign-in/<uuid:factor_id>/remove/", "sessions/end-others/", "sessions/<uuid:session_id>/end/"),
            *("watch/now/", "alerts/tally/", "alerts/news/read/", ""),
            *("waiting/", "waiting/record/", "waiting/<uuid:mark_id>/drop/"),  # of the reader's own
            *("caseload/referrals/known/", "floor/<uuid:episode_id>/taken-over/"),  # a list cut by reach; led elsewhere
        ),
        (SIGNED_IN, SIGNED_IN),
    ),
    "protocol/": (SIGNED_IN, clinic(A.ADOPT_PROTOCOL)),
    # --- the clinic ---
    **dict.fromkeys(("watch/", "watch/alarms/<uuid:alarm_id>/"), (clinic(A.SEE_WATCH), clinic(A.SETTLE_ALARM))),
    **dict.fromkeys(("identities/", f"{_STAFF_PAGE}identity/"), (clinic(A.CHECK_IDENTITY),) * 2),
    **dict.fromkeys(
        ("tablets/", "tablets/add/", "tablets/here/", "tablets/<uuid:tablet_id>/revoke/"),
        (clinic(A.MANAGE_TABLETS),) * 2,
    ),
    **dict.fromkeys(("staff/", _STAFF_PAGE), (clinic(A.SEE_STAFF),) * 2),
    **dict.fromkeys(
        (
            *("staff/add/", "staff/sites/add/", "staff/review/"),
            *(f"{_STAFF_PAGE}{page}/" for page in ("edit", "end", "move", "password", "end-sessions", "take-pin")),
            *(f"{_STAFF_PAGE}{page}/add/" for page in ("roles", "registrations", "authorisations")),
            f"{_STAFF_PAGE}roles/<uuid:term_id>/end/",
            f"{_STAFF_PAGE}authorisations/<uuid:authorisation_id>/withdraw/",
            f"{_STAFF_PAGE}factors/<uuid:factor_id>/remove/",
        ),
        (_MANAGES, _MANAGES),
    ),
    **dict.fromkeys(("trail/", "trail/export/", "trail/person/"), (clinic(A.SEE_TRAIL),) * 2),
    **dict.fromkeys(("judged/", "judged/<uuid:difference_id>/take/"), (clinic(A.SEE_DIFFERENCES),) * 2),
    "proof/": (clinic(A.EXPORT_RECORD), clinic(A.EXPORT_RECORD)),
    "keeping/": (clinic(A.SEE_KEEPING),) * 2,
    "keeping/sites/<uuid:site_id>/": (clinic(A.SET_RETENTION),) * 2,
    "keeping/people/<uuid:person_id>/": (clinic(A.SEE_KEEPING),) * 2,
    "keeping/people/<uuid:person_id>/hold/": (clinic(A.HOLD_RECORD),) * 2,
    "keeping/holds/<uuid:hold_id>/lift/": (clinic(A.HOLD_RECORD),) * 2,
    **dict.fromkeys(
        [f"keeping/archives/<uuid:archive_id>/{what}" for what in ("", "now/", "taken/")],
        (clinic(A.EXPORT_RECORD),) * 2,
    ),
    **dict.fromkeys(
        [f"keeping/erasures/<uuid:erasure_id>/{what}" for what in ("", "down/")], (clinic(A.CONFIRM_ERASURE),) * 2
    ),
    "keeping/people/<uuid:person_id>/archive/": (clinic(A.EXPORT_RECORD),) * 2,
    "keeping/people/<uuid:person_id>/erasure/": (clinic(A.ASK_ERASURE),) * 2,
    # --- emergency access ---
    "emergency/": (clinic(A.OPEN_EMERGENCY),) * 2,
    **dict.fromkeys(("emergency/all/", "emergency/<uuid:emergency_id>/"), (clinic(A.JUDGE_EMERGENCY),) * 2),
    # --- the caseload ---
    "caseload/": (clinic(A.SEE_CASELOAD),) * 2,
    "caseload/cover/": (clinic(A.ARRANGE_COVER),) * 2,
    "caseload/cover/<uuid:staff_id>/end/": (clinic(A.ARRANGE_COVER),) * 2,
    "caseload/weights/": (clinic(A.SET_LOAD_WEIGHTS),) * 2,
    **dict.fromkeys(("caseload/handover/", "caseload/handover/<uuid:staff_id>/"), (clinic(A.SEE_PERSON),) * 2),
    **dict.fromkeys(
        ("caseload/referrals/", *(f"caseload/referrals/<uuid:referral_id>/{act}/" for act in ("change", "end"))),
        (clinic(A.TAKE_REFERRAL),) * 2,
    ),
    "caseload/referrals/<uuid:referral_id>/assign/": (clinic(A.ASSIGN),) * 2,
    # --- one person's plan ---
    _PLAN: (_SEES, _SEES),
    f"{_PLAN}person/": (_SEES, person(A.EDIT_PERSON)),
    f"{_PLAN}weight/": (_SEES, person(A.EDIT_PERSON)),
    f"{_PLAN}visits/": (_SEES, person(A.PLAN_VISIT)),
    f"{_PLAN}visits/<uuid:visit_id>/": (person(A.RECORD), person(A.RECORD)),
    **dict.fromkeys(
        (f"{_PLAN}reviews/", f"{_PLAN}{_REVIEW}put-off/", f"{_PLAN}{_REVIEW}strike-out/"),
        (_SEES, person(A.PLAN_REVIEW)),
    ),
    f"{_PLAN}requests/": (_SEES, person(A.ASK_ADJUSTMENT)),
    f"{_PLAN}requests/<uuid:request_id>/": (person(A.SEE_REQUESTS), person(A.ASK_ADJUSTMENT)),
    **dict.fromkeys((f"{_PLAN}pause/", f"{_PLAN}resume/"), (_SEES, person(A.PAUSE_EPISODE))),
    f"{_PLAN}move/": (_SEES, person(A.ASSIGN)),
    f"{_PLAN}reassign/": (person(A.ASSIGN), person(A.ASSIGN)),
    f"{_PLAN}cover/": (person(A.ARRANGE_COVER), person(A.ARRANGE_COVER)),
    f"{_PLAN}cover/<uuid:cover_id>/end/": (_SEES, person(A.ARRANGE_COVER)),
    **dict.fromkeys(
        (f"{_PLAN}devices/", _DEVICE, f"{_DEVICE}parts/", _PART, f"{_PART}correct/"),
        (_SEES, person(A.KEEP_DEVICES)),
    ),
    # --- one person's record ---
    "people/": (clinic(A.SEE_PERSON),) * 2,
    "people/<uuid:episode_id>/": (_SEES, _SEES),
    "people/<uuid:episode_id>/cleared/": (person(A.PRINT_PERSON),) * 2,
    "paper/": (clinic(A.PRINT_PERSON),) * 2,
    "people/<uuid:episode_id>/paper/": (person(A.PRINT_PERSON),) * 2,
    "people/<uuid:episode_id>/paper/enter/": (person(A.RECORD),) * 2,
    "people/<uuid:episode_id>/review/": (person(A.REVIEW_FALL),) * 2,
    "people/<uuid:episode_id>/discharge/": (person(A.CLOSE_EPISODE),) * 2,
    "people/<uuid:episode_id>/sign-off/<str:skill>/": (person(A.SIGN_OFF),) * 2,
    "people/<uuid:episode_id>/sign-off/<str:skill>/withdraw/": (person(A.SIGN_OFF),) * 2,
    "people/<uuid:episode_id>/strike-out/": (person(A.RECORD_KNEE),) * 2,
    "people/<uuid:episode_id>/corrections/": (person(A.ASK_CORRECTION),) * 2,
    "people/<uuid:episode_id>/corrections/<uuid:correction_id>/": (person(A.ANSWER_CORRECTION),) * 2,
    **dict.fromkeys(
        ("floor/<uuid:episode_id>/", "floor/<uuid:episode_id>/state/", "floor/<uuid:episode_id>/others/"),
        (person(A.RECORD_KNEE),) * 2,
    ),
    "floor/<uuid:episode_id>/move/": (person(A.RECORD), person(A.RECORD)),
    "alerts/": (clinic(A.SEE_ALERTS),) * 2,
    "day-end/": (clinic(A.RECORD),) * 2,
    "alerts/<uuid:episode_id>/<uuid:entry>/": (person(A.SEE_ALERTS), person(A.ACKNOWLEDGE_ALERT)),
    "aside/": (clinic(A.SEE_REFUSED),) * 2,
    "aside/held/<uuid:held_id>/release/": (clinic(A.RELEASE_LATE),) * 2,
    "aside/held/<uuid:held_id>/turn-away/": (clinic(A.RELEASE_LATE),) * 2,
    "aside/refused/<uuid:refused_id>/settle/": (clinic(A.RELEASE_LATE),) * 2,
    # --- the bench ---
    "bench/": (clinic(A.ANSWER_ADJUSTMENT),) * 2,
    "bench/<uuid:episode_id>/": (person(A.ANSWER_ADJUSTMENT), person(A.RECORD_SETTING)),
    "bench/<uuid:episode_id>/requests/<uuid:request_id>/": (person(A.ANSWER_ADJUSTMENT),) * 2,
    "bench/requests/<uuid:request_id>/see/": (person(A.ANSWER_ADJUSTMENT),) * 2,
    "bench/requests/<uuid:request_id>/decline/": (person(A.SEE_REQUESTS), person(A.ANSWER_ADJUSTMENT)),
}

# method and route → rule
OPERATIONS: dict[str, Rule] = {
    "get api/v1/schema/": OPEN,
    "post api/v1/tokens/": OPEN,
    "delete api/v1/tokens/current/": SIGNED_IN,
    "get api/v1/protocols/current/": SIGNED_IN,
    "get api/v1/news/": SIGNED_IN,
    "post api/v1/news/": SIGNED_IN,
    "get api/v1/board/": clinic(A.SEE_PERSON),
    # --- people ---
    "post api/v1/people/": clinic(A.TAKE_REFERRAL),
    "get api/v1/people/<uuid:person_id>/": _SEES,
    "put api/v1/people/<uuid:person_id>/": person(A.EDIT_PERSON),
    "post api/v1/people/<uuid:person_id>/weights/": person(A.EDIT_PERSON),
    "get api/v1/referrals/": clinic(A.TAKE_REFERRAL),
    "post api/v1/referrals/": clinic(A.TAKE_REFERRAL),
    "get api/v1/referrals/<uuid:referral_id>/": clinic(A.TAKE_REFERRAL),
    "post api/v1/referrals/<uuid:referral_id>/end/": clinic(A.TAKE_REFERRAL),
    # --- episodes ---
    "get api/v1/episodes/": clinic(A.SEE_PERSON),
    "post api/v1/episodes/": clinic(A.ASSIGN),
    **dict.fromkeys(
        [
            f"get {_EPISODE}",
            *(f"get {_EPISODE}{what}/" for what in ("staircase", "facts", "plan", "hands", "visits", "requests")),
            *(f"get {_EPISODE}{what}/" for what in ("planned-reviews", "devices")),
        ],
        _SEES,
    ),
    f"post {_EPISODE}end/": person(A.CLOSE_EPISODE),
    f"post {_EPISODE}pauses/": person(A.PAUSE_EPISODE),
    f"post {_EPISODE}resumption/": person(A.PAUSE_EPISODE),
    f"post {_EPISODE}transfer/": person(A.ASSIGN),
    f"post {_EPISODE}assignments/": person(A.ASSIGN),
    f"post {_EPISODE}reassignment/": person(A.ASSIGN),
    f"post {_EPISODE}visits/": person(A.PLAN_VISIT),
    f"post {_EPISODE}planned-reviews/": person(A.PLAN_REVIEW),
    f"post {_EPISODE}requests/": person(A.ASK_ADJUSTMENT),
    f"post {_EPISODE}devices/": person(A.KEEP_DEVICES),
    # --- the record ---
    f"post {_EPISODE}entries/": fact(A.RECORD),
    f"post {_EPISODE}entries/<uuid:entry>/settled/": person(A.RECORD_KNEE),
    "post api/v1/sealed/": SIGNED_IN,  # whoever is signed in next on the tablet, and reads none of it
    f"post {_EPISODE}advice/": person(A.RECORD_KNEE),
    f"get {_EPISODE}pack/": person(A.RECORD_KNEE),
    f"post {_EPISODE}settings/": fact(A.RECORD_SETTING),
    f"post {_EPISODE}reviews/": fact(A.REVIEW_FALL),
    f"post {_EPISODE}moves/": person(A.RECORD),
    f"get {_EPISODE}sign-offs/<slug:skill>/": person(A.SIGN_OFF),
    f"post {_EPISODE}sign-offs/<slug:skill>/": person(A.SIGN_OFF),
    f"post {_EPISODE}sign-offs/<slug:skill>/withdrawn/": person(A.SIGN_OFF),
    f"get {_EPISODE}corrections/": person(A.ASK_CORRECTION),
    f"post {_EPISODE}corrections/": person(A.ASK_CORRECTION),
    f"post {_EPISODE}corrections/<uuid:correction_id>/answer/": person(A.ANSWER_CORRECTION),
    f"post {_EPISODE}acts/<uuid:entry_id>/answered/": person(A.ACKNOWLEDGE_ALERT),
    "get api/v1/alerts/": clinic(A.SEE_ALERTS),
    "get api/v1/refused-entries/": clinic(A.SEE_REFUSED),
    "post api/v1/refused-entries/<uuid:refused_id>/settled/": clinic(A.RELEASE_LATE),
    "get api/v1/held-entries/": clinic(A.RELEASE_LATE),
    "post api/v1/held-entries/<uuid:held_id>/released/": clinic(A.RELEASE_LATE),
    "post api/v1/held-entries/<uuid:held_id>/turned-away/": clinic(A.RELEASE_LATE),
    "get api/v1/trail/": clinic(A.SEE_TRAIL),
    # --- plans, by their own ids ---
    "post api/v1/assignments/<uuid:assignment_id>/end/": person(A.ASSIGN),
    "post api/v1/covers/": clinic(A.ARRANGE_COVER),
    "post api/v1/covers/<uuid:cover_id>/end/": person(A.ARRANGE_COVER),
    "get api/v1/visits/": clinic(A.SEE_PERSON),
    "post api/v1/visits/<uuid:visit_id>/state/": person(A.PLAN_VISIT),
    "get api/v1/planned-reviews/": clinic(A.SEE_PERSON),
    "post api/v1/planned-reviews/<uuid:review_id>/put-off/": person(A.PLAN_REVIEW),
    "post api/v1/planned-reviews/<uuid:review_id>/cancel/": person(A.PLAN_REVIEW),
    "get api/v1/requests/": clinic(A.SEE_REQUESTS),
    "put api/v1/requests/<uuid:request_id>/": person(A.ASK_ADJUSTMENT),
    "post api/v1/requests/<uuid:request_id>/seen/": person(A.ANSWER_ADJUSTMENT),
    "post api/v1/requests/<uuid:request_id>/declined/": person(A.ANSWER_ADJUSTMENT),
    "put api/v1/devices/<uuid:prosthesis_id>/": _KEEPS,
    "post api/v1/devices/<uuid:prosthesis_id>/parts/": _KEEPS,
    "post api/v1/devices/<uuid:prosthesis_id>/parts/<uuid:component_id>/removed/": _KEEPS,
    # --- loads and staff ---
    "get api/v1/loads/": clinic(A.SEE_CASELOAD),
    "get api/v1/load-weights/": clinic(A.SEE_CASELOAD),
    "put api/v1/load-weights/": clinic(A.SET_LOAD_WEIGHTS),
    "get api/v1/staff/": clinic(A.SEE_STAFF),
    "post api/v1/staff/": _MANAGES,
    f"get {_STAFF}": clinic(A.SEE_STAFF),
    f"put {_STAFF}": _MANAGES,
    f"get {_STAFF}handover/": SIGNED_IN,  # cut by reach: an empty list for most
    **{f"post {_STAFF}{what}/": _MANAGES for what in ("end", "password", "roles", "registrations", "authorisations")},
    "post api/v1/roles/<uuid:term_id>/end/": _MANAGES,
    "post api/v1/authorisations/<uuid:authorisation_id>/withdrawn/": _MANAGES,
    "get api/v1/sites/": clinic(A.SEE_STAFF),
    "post api/v1/sites/": _MANAGES,
}


def rule_of(method: str, route: str) -> Rule | None:
    """The rule of a door; nothing where it has none yet."""
    if route.startswith("api/"):
        return OPERATIONS.get(f"{method} {route}")
    both = PAGES.get(route)
    return both and both[method == "post"]
