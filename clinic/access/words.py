"""The actions of POLICY in words, as a refusal names them."""

from __future__ import annotations

from django.utils.translation import gettext_lazy

from clinic.access.policy import Action
from clinic.language.text import Text

_WORDS: dict[Action, Text] = {
    Action.SEE_PERSON: gettext_lazy("see person"),
    Action.SEE_CASELOAD: gettext_lazy("see caseload"),
    Action.SEE_STAFF: gettext_lazy("see staff"),
    Action.SEE_ALERTS: gettext_lazy("see alerts"),
    Action.SEE_REQUESTS: gettext_lazy("see requests"),
    Action.SEE_PROTOCOL: gettext_lazy("see protocol"),
    Action.SEE_TRAIL: gettext_lazy("see trail"),
    Action.SEE_REFUSED: gettext_lazy("see refused"),
    Action.RECORD: gettext_lazy("record"),
    Action.RECORD_KNEE: gettext_lazy("record knee"),
    Action.RECORD_SETTING: gettext_lazy("record setting"),
    Action.REVIEW_FALL: gettext_lazy("review fall"),
    Action.STRIKE_ANY: gettext_lazy("strike any"),
    Action.RELEASE_LATE: gettext_lazy("release late"),
    Action.IMPORT_RECORD: gettext_lazy("import record"),
    Action.EXPORT_RECORD: gettext_lazy("export record"),
    Action.PRINT_PERSON: gettext_lazy("print person"),
    Action.SIGN_OFF: gettext_lazy("sign off"),
    Action.COUNTERSIGN: gettext_lazy("countersign"),
    Action.ACKNOWLEDGE_ALERT: gettext_lazy("acknowledge alert"),
    Action.TAKE_REFERRAL: gettext_lazy("take referral"),
    Action.EDIT_PERSON: gettext_lazy("edit person"),
    Action.ASSIGN: gettext_lazy("assign"),
    Action.ARRANGE_COVER: gettext_lazy("arrange cover"),
    Action.OPEN_EPISODE: gettext_lazy("open episode"),
    Action.PAUSE_EPISODE: gettext_lazy("pause episode"),
    Action.CLOSE_EPISODE: gettext_lazy("close episode"),
    Action.PLAN_VISIT: gettext_lazy("plan visit"),
    Action.PLAN_REVIEW: gettext_lazy("plan review"),
    Action.ASK_ADJUSTMENT: gettext_lazy("ask adjustment"),
    Action.ANSWER_ADJUSTMENT: gettext_lazy("answer adjustment"),
    Action.KEEP_DEVICES: gettext_lazy("keep devices"),
    Action.MANAGE_STAFF: gettext_lazy("manage staff"),
    Action.MANAGE_TABLETS: gettext_lazy("manage tablets"),
    Action.CHECK_IDENTITY: gettext_lazy("check identity"),
    Action.SET_LOAD_WEIGHTS: gettext_lazy("set load weights"),
    Action.CARRY_EPISODE: gettext_lazy("carry episode"),
    Action.SEE_WATCH: gettext_lazy("see watch"),
    Action.SETTLE_ALARM: gettext_lazy("settle alarm"),
    Action.SEE_DIFFERENCES: gettext_lazy("see differences"),
    Action.ADOPT_PROTOCOL: gettext_lazy("adopt protocol"),
    Action.SEE_KEEPING: gettext_lazy("see keeping"),
    Action.SET_RETENTION: gettext_lazy("set retention"),
    Action.HOLD_RECORD: gettext_lazy("hold record"),
    Action.ASK_CORRECTION: gettext_lazy("ask correction"),
    Action.ANSWER_CORRECTION: gettext_lazy("answer correction"),
    Action.ASK_ERASURE: gettext_lazy("ask erasure"),
    Action.CONFIRM_ERASURE: gettext_lazy("confirm erasure"),
    Action.OPEN_EMERGENCY: gettext_lazy("open emergency"),
    Action.JUDGE_EMERGENCY: gettext_lazy("judge emergency"),
}


def words_of(action: Action) -> str:
    """What an action is called by whoever may not do it."""
    return str(_WORDS.get(action, action.replace("_", " ")))
