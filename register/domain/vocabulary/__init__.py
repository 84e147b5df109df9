"""Closed vocabularies: (code, words) pairs as plain strings.

One list serves the models, the forms, the rules and the audit. A blank text
is "not recorded"; the reasons why a field is deliberately empty are ABSENT.
"""

from register.domain.vocabulary.base import (
    ABSENT as ABSENT,
)
from register.domain.vocabulary.base import (
    YES_NO as YES_NO,
)
from register.domain.vocabulary.base import (
    Words as Words,
)
from register.domain.vocabulary.base import (
    codes as codes,
)
from register.domain.vocabulary.base import (
    words_for as words_for,
)
from register.domain.vocabulary.follow_up import (
    ATTEMPT_OUTCOME as ATTEMPT_OUTCOME,
)
from register.domain.vocabulary.follow_up import (
    CONTACT_MODE as CONTACT_MODE,
)
from register.domain.vocabulary.follow_up import (
    INFORMANT as INFORMANT,
)
from register.domain.vocabulary.follow_up import (
    INSTRUMENT as INSTRUMENT,
)
from register.domain.vocabulary.follow_up import (
    RED_FLAG as RED_FLAG,
)
from register.domain.vocabulary.follow_up import (
    REVIEW_END as REVIEW_END,
)
from register.domain.vocabulary.follow_up import (
    TASK_KIND as TASK_KIND,
)
from register.domain.vocabulary.imaging import (
    CALIBRATION as CALIBRATION,
)
from register.domain.vocabulary.imaging import (
    COUNTED_FROM as COUNTED_FROM,
)
from register.domain.vocabulary.imaging import (
    END_PLATE as END_PLATE,
)
from register.domain.vocabulary.imaging import (
    EPIDURAL_GRADE as EPIDURAL_GRADE,
)
from register.domain.vocabulary.imaging import (
    HEIGHT_METHOD as HEIGHT_METHOD,
)
from register.domain.vocabulary.imaging import (
    IMAGE_KIND as IMAGE_KIND,
)
from register.domain.vocabulary.imaging import (
    MARK_VIEW as MARK_VIEW,
)
from register.domain.vocabulary.imaging import (
    MODALITY as MODALITY,
)
from register.domain.vocabulary.imaging import (
    NO_MRI_REASON as NO_MRI_REASON,
)
from register.domain.vocabulary.imaging import (
    OEDEMA as OEDEMA,
)
from register.domain.vocabulary.imaging import (
    PIXELS as PIXELS,
)
from register.domain.vocabulary.imaging import (
    PLANE as PLANE,
)
from register.domain.vocabulary.imaging import (
    POSTERIOR_WALL as POSTERIOR_WALL,
)
from register.domain.vocabulary.imaging import (
    POSTURE as POSTURE,
)
from register.domain.vocabulary.imaging import (
    TENSION_BAND as TENSION_BAND,
)
from register.domain.vocabulary.imaging import (
    TRANSITIONAL as TRANSITIONAL,
)
from register.domain.vocabulary.people import (
    FILE_KIND as FILE_KIND,
)
from register.domain.vocabulary.people import (
    PHONE_KIND as PHONE_KIND,
)
from register.domain.vocabulary.people import (
    ROLE as ROLE,
)
from register.domain.vocabulary.people import (
    SEX as SEX,
)
from register.domain.vocabulary.people import (
    TRANSFER_KIND as TRANSFER_KIND,
)
from register.domain.vocabulary.referral import (
    ANALGESIC_STEP as ANALGESIC_STEP,
)
from register.domain.vocabulary.referral import (
    ANTITHROMBOTIC as ANTITHROMBOTIC,
)
from register.domain.vocabulary.referral import (
    ANTITHROMBOTIC_INDICATION as ANTITHROMBOTIC_INDICATION,
)
from register.domain.vocabulary.referral import (
    ASA as ASA,
)
from register.domain.vocabulary.referral import (
    ASIA as ASIA,
)
from register.domain.vocabulary.referral import (
    BONE_SITE as BONE_SITE,
)
from register.domain.vocabulary.referral import (
    CANCER_HISTORY as CANCER_HISTORY,
)
from register.domain.vocabulary.referral import (
    DATE_PRECISION as DATE_PRECISION,
)
from register.domain.vocabulary.referral import (
    FAILURE_CRITERION as FAILURE_CRITERION,
)
from register.domain.vocabulary.referral import (
    FRACTURE_CAUSE as FRACTURE_CAUSE,
)
from register.domain.vocabulary.referral import (
    FRACTURE_STATE as FRACTURE_STATE,
)
from register.domain.vocabulary.referral import (
    INFECTION_SIGN as INFECTION_SIGN,
)
from register.domain.vocabulary.referral import (
    INFECTION_STATE as INFECTION_STATE,
)
from register.domain.vocabulary.referral import (
    LAB_ANALYTE as LAB_ANALYTE,
)
from register.domain.vocabulary.referral import (
    LAB_UNIT as LAB_UNIT,
)
from register.domain.vocabulary.referral import (
    MECHANISM as MECHANISM,
)
from register.domain.vocabulary.referral import (
    MOBILITY as MOBILITY,
)
from register.domain.vocabulary.referral import (
    NEUROLOGY as NEUROLOGY,
)
from register.domain.vocabulary.referral import (
    PAIN_TREND as PAIN_TREND,
)
from register.domain.vocabulary.referral import (
    PREGNANCY as PREGNANCY,
)
from register.domain.vocabulary.referral import (
    REFERRAL_SOURCE as REFERRAL_SOURCE,
)
from register.domain.vocabulary.referral import (
    REFERRAL_STATE as REFERRAL_STATE,
)
from register.domain.vocabulary.referral import (
    URGENCY as URGENCY,
)
from register.domain.vocabulary.theatre import (
    ANAESTHESIA as ANAESTHESIA,
)
from register.domain.vocabulary.theatre import (
    APPROACH as APPROACH,
)
from register.domain.vocabulary.theatre import (
    CASE_STATE as CASE_STATE,
)
from register.domain.vocabulary.theatre import (
    COMPLICATION as COMPLICATION,
)
from register.domain.vocabulary.theatre import (
    COMPLICATION_CHECK as COMPLICATION_CHECK,
)
from register.domain.vocabulary.theatre import (
    COMPLICATION_GRADE as COMPLICATION_GRADE,
)
from register.domain.vocabulary.theatre import (
    IMPLANT_FATE as IMPLANT_FATE,
)
from register.domain.vocabulary.theatre import (
    LEAK_CHECKED as LEAK_CHECKED,
)
from register.domain.vocabulary.theatre import (
    LEAK_CONSEQUENCE as LEAK_CONSEQUENCE,
)
from register.domain.vocabulary.theatre import (
    LEAK_PLACE as LEAK_PLACE,
)
from register.domain.vocabulary.theatre import (
    LEAK_ROUTE as LEAK_ROUTE,
)
from register.domain.vocabulary.theatre import (
    LEAK_SEEN_ON as LEAK_SEEN_ON,
)
from register.domain.vocabulary.theatre import (
    LEVEL_CHECK as LEVEL_CHECK,
)
from register.domain.vocabulary.theatre import (
    LIST_STATE as LIST_STATE,
)
from register.domain.vocabulary.theatre import (
    PLAN_STATE as PLAN_STATE,
)
from register.domain.vocabulary.theatre import (
    PROCEDURE_ROUTES as PROCEDURE_ROUTES,
)
from register.domain.vocabulary.theatre import (
    ROUTE as ROUTE,
)
from register.domain.vocabulary.theatre import (
    SIDE as SIDE,
)
from register.domain.vocabulary.theatre import (
    STOCK_KIND as STOCK_KIND,
)
from register.domain.vocabulary.theatre import (
    VISCOSITY as VISCOSITY,
)
