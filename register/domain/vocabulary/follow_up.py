"""Contacts, scores, attempts and tasks."""

from typing import Final

from register.domain.vocabulary.base import Words

CONTACT_MODE: Final[Words] = (
    ("clinic", "clinic"),
    ("telephone", "telephone"),
    ("post", "post"),
    ("care_home", "care home"),
)
INFORMANT: Final[Words] = (
    ("patient", "the patient"),
    ("relative", "a relative"),
    ("carer", "a carer"),
)
REVIEW_END: Final[Words] = (
    ("dead", "died"),
    ("withdrawn", "withdrew"),
    ("moved", "moved away"),
    ("unable", "unable to answer"),
    ("lost", "lost to follow-up"),
)
INSTRUMENT: Final[Words] = (
    ("pain_now", "pain now, 0 to 10"),
    ("pain_worst", "worst pain in the last week, 0 to 10"),
    ("pain_moving", "pain on movement, 0 to 10"),
    ("disability_24", "24-item disability total, 0 to 24"),
    ("disability_percent", "ten-section disability index, 0 to 100 %"),
    ("analgesic_step", "analgesic step, 0 to 3"),
    ("mobility", "mobility, 0 in bed to 4 walks without aid"),
    ("new_pain", "new back pain since the last contact, 0 no 1 yes"),
    ("falls", "falls since the last contact, number"),
    ("bone_drug", "takes a bone-protecting drug, 0 no 1 yes"),
)
# Signs that need somebody at once (common practice; the instruction is the department's own).
RED_FLAG: Final[Words] = (
    ("leg_weakness", "new leg weakness"),
    ("bladder_bowel", "change of bladder or bowel"),
    ("fever", "fever"),
    ("sudden_pain", "sudden new pain"),
    ("none", "asked, none of these"),
)
ATTEMPT_OUTCOME: Final[Words] = (
    ("reached", "reached"),
    ("no_answer", "no answer"),
    ("message", "message left"),
    ("wrong_number", "wrong number"),
    ("call_back", "asked to be called back"),
    ("declined", "declined"),
)
TASK_KIND: Final[Words] = (
    ("test", "test to arrange"),
    ("result", "result to see"),
    ("specimen", "specimen to see"),
    ("opinion", "opinion to obtain"),
    ("letter", "letter to write"),
    ("other", "other"),
)
