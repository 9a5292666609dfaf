"""Who may do what, and how far it reaches: one table. What is absent is refused."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from clinic.access.scope import Scope
from clinic.staff.roles import Role


class Action(StrEnum):
    """Everything that somebody can ask for, page or API alike."""

    SEE_PERSON = "see_person"
    SEE_CASELOAD = "see_caseload"
    SEE_STAFF = "see_staff"
    SEE_ALERTS = "see_alerts"
    SEE_REQUESTS = "see_requests"
    SEE_PROTOCOL = "see_protocol"
    SEE_TRAIL = "see_trail"
    SEE_REFUSED = "see_refused"
    RECORD = "record"
    RECORD_KNEE = "record_knee"
    RECORD_SETTING = "record_setting"
    REVIEW_FALL = "review_fall"
    STRIKE_ANY = "strike_any"
    RELEASE_LATE = "release_late"
    IMPORT_RECORD = "import_record"
    EXPORT_RECORD = "export_record"
    PRINT_PERSON = "print_person"
    SIGN_OFF = "sign_off"
    COUNTERSIGN = "countersign"
    ACKNOWLEDGE_ALERT = "acknowledge_alert"
    TAKE_REFERRAL = "take_referral"
    EDIT_PERSON = "edit_person"
    ASSIGN = "assign"
    ARRANGE_COVER = "arrange_cover"
    OPEN_EPISODE = "open_episode"
    PAUSE_EPISODE = "pause_episode"
    CLOSE_EPISODE = "close_episode"
    PLAN_VISIT = "plan_visit"
    PLAN_REVIEW = "plan_review"
    ASK_ADJUSTMENT = "ask_adjustment"
    ANSWER_ADJUSTMENT = "answer_adjustment"
    KEEP_DEVICES = "keep_devices"
    MANAGE_STAFF = "manage_staff"
    MANAGE_TABLETS = "manage_tablets"
    CHECK_IDENTITY = "check_identity"
    SET_LOAD_WEIGHTS = "set_load_weights"
    CARRY_EPISODE = "carry_episode"
    SEE_WATCH = "see_watch"
    SETTLE_ALARM = "settle_alarm"
    SEE_DIFFERENCES = "see_differences"
    ADOPT_PROTOCOL = "adopt_protocol"
    SEE_KEEPING = "see_keeping"
    SET_RETENTION = "set_retention"
    HOLD_RECORD = "hold_record"
    ASK_CORRECTION = "ask_correction"
    ANSWER_CORRECTION = "answer_correction"
    ASK_ERASURE = "ask_erasure"
    CONFIRM_ERASURE = "confirm_erasure"
    OPEN_EMERGENCY = "open_emergency"
    JUDGE_EMERGENCY = "judge_emergency"


_LEAD = Role.CLINIC_LEAD
_THERAPIST = Role.THERAPIST
_PROSTHETIST = Role.PROSTHETIST
_ASSISTANT = Role.ASSISTANT
_RECORDS = Role.RECORDS_OFFICER
_OWN, _SITE, _ALL = Scope.OWN, Scope.SITE, Scope.ALL

# One prosthetist's bench serves the whole clinic; an assistant works for whichever therapist is in the gym of the site.
POLICY: Mapping[Action, Mapping[Role, Scope]] = MappingProxyType(
    {
        Action.SEE_PERSON: {_LEAD: _ALL, _THERAPIST: _OWN, _PROSTHETIST: _ALL, _ASSISTANT: _SITE},
        Action.SEE_CASELOAD: {_LEAD: _ALL},
        Action.SEE_STAFF: {_LEAD: _ALL},
        Action.SEE_ALERTS: {_LEAD: _ALL, _THERAPIST: _OWN, _PROSTHETIST: _ALL, _ASSISTANT: _SITE},
        Action.SEE_REQUESTS: {_LEAD: _ALL, _THERAPIST: _OWN, _PROSTHETIST: _ALL},
        Action.SEE_PROTOCOL: {_LEAD: _ALL, _THERAPIST: _ALL, _PROSTHETIST: _ALL, _ASSISTANT: _ALL, _RECORDS: _ALL},
        Action.SEE_TRAIL: {_RECORDS: _ALL},
        Action.SEE_REFUSED: {_LEAD: _ALL, _THERAPIST: _OWN, _PROSTHETIST: _OWN, _ASSISTANT: _OWN},
        Action.RECORD: {_LEAD: _ALL, _THERAPIST: _OWN, _ASSISTANT: _SITE},
        Action.RECORD_KNEE: {_LEAD: _ALL, _THERAPIST: _OWN, _ASSISTANT: _SITE, _PROSTHETIST: _ALL},
        Action.RECORD_SETTING: {_PROSTHETIST: _ALL},
        Action.REVIEW_FALL: {_LEAD: _ALL, _THERAPIST: _OWN},
        Action.STRIKE_ANY: {_LEAD: _ALL},  # everybody else strikes out what they could have recorded themselves
        Action.RELEASE_LATE: {_LEAD: _ALL},
        Action.IMPORT_RECORD: {_LEAD: _ALL},
        Action.EXPORT_RECORD: {_RECORDS: _ALL},
        Action.PRINT_PERSON: {_LEAD: _ALL, _THERAPIST: _OWN, _ASSISTANT: _SITE},
        Action.SIGN_OFF: {_LEAD: _ALL, _THERAPIST: _OWN},
        Action.COUNTERSIGN: {_LEAD: _ALL},
        Action.ACKNOWLEDGE_ALERT: {_LEAD: _ALL, _THERAPIST: _OWN},
        Action.TAKE_REFERRAL: {_LEAD: _ALL},
        Action.EDIT_PERSON: {_LEAD: _ALL, _THERAPIST: _OWN},
        Action.ASSIGN: {_LEAD: _ALL},
        Action.ARRANGE_COVER: {_LEAD: _ALL},
        Action.OPEN_EPISODE: {_LEAD: _ALL, _THERAPIST: _OWN},
        Action.PAUSE_EPISODE: {_LEAD: _ALL, _THERAPIST: _OWN},
        Action.CLOSE_EPISODE: {_LEAD: _ALL, _THERAPIST: _OWN},
        Action.PLAN_VISIT: {_LEAD: _ALL, _THERAPIST: _OWN},
        Action.PLAN_REVIEW: {_LEAD: _ALL, _THERAPIST: _OWN},
        Action.ASK_ADJUSTMENT: {_LEAD: _ALL, _THERAPIST: _OWN},
        Action.ANSWER_ADJUSTMENT: {_PROSTHETIST: _ALL},
        Action.KEEP_DEVICES: {_PROSTHETIST: _ALL},
        Action.MANAGE_STAFF: {_LEAD: _ALL},
        Action.MANAGE_TABLETS: {_LEAD: _ALL},
        Action.CHECK_IDENTITY: {_LEAD: _ALL, _RECORDS: _ALL},
        Action.SET_LOAD_WEIGHTS: {_LEAD: _ALL},
        Action.CARRY_EPISODE: {_THERAPIST: _OWN},  # who may be given an episode, or cover one
        Action.SEE_WATCH: {_LEAD: _ALL, _RECORDS: _ALL},
        Action.SETTLE_ALARM: {_LEAD: _ALL, _RECORDS: _ALL},  # says what came of it; changes nothing of the record
        Action.SEE_DIFFERENCES: {_LEAD: _ALL},  # the case is a person's record, in full
        Action.ADOPT_PROTOCOL: {_LEAD: _ALL},
        Action.SEE_KEEPING: {_LEAD: _ALL, _RECORDS: _ALL},
        Action.SET_RETENTION: {_LEAD: _ALL},
        Action.HOLD_RECORD: {_LEAD: _ALL, _RECORDS: _ALL},
        # somebody says that the record is wrong: whoever hears it writes that down, and a lead answers
        Action.ASK_CORRECTION: {_LEAD: _ALL, _THERAPIST: _OWN, _PROSTHETIST: _ALL, _ASSISTANT: _SITE, _RECORDS: _ALL},
        Action.ANSWER_CORRECTION: {_LEAD: _ALL},
        Action.ASK_ERASURE: {_RECORDS: _ALL},
        Action.CONFIRM_ERASURE: {_LEAD: _ALL},
        Action.OPEN_EMERGENCY: {_THERAPIST: _ALL, _ASSISTANT: _ALL},  # a lead and the bench see everybody anyway
        Action.JUDGE_EMERGENCY: {_LEAD: _ALL},
    }
)
# What emergency access to one episode adds for its hour: reading that episode, and nothing else.
IN_EMERGENCY = frozenset({Action.SEE_PERSON})
