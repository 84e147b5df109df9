"""Every rule on both sides of each of its bounds: verdict, effect, and what the sentence says."""

from datetime import date, timedelta
from decimal import Decimal as D

import pytest

from planning.rules.core import REGISTRY
from planning.rules.outcomes import Effect, Verdict

AS_OF = date(2026, 11, 25)
MET, NOT_MET = Verdict.MET, Verdict.NOT_MET
UNDECIDED, OUTSIDE = Verdict.CANNOT_ASSESS, Verdict.NOT_APPLICABLE
FOR, CAUTION, NOT_YET = Effect.SUPPORTS, Effect.CAUTIONS, Effect.NOT_YET
AGAINST, URGENT = Effect.RULES_OUT_ROUTE, Effect.REFERS_URGENTLY


def days_old(days, precision="day"):
    return {"onset_on": AS_OF - timedelta(days=days), "onset_precision": precision}


NO_MRI = {"oedema": None, "no_mri_reason": "device"}
WALL = {"posterior_wall": "fifth_or_more"}
STENT = (("clopidogrel", "stent_recent"),)
FIBRILLATION = (("apixaban", "atrial_fibrillation"),)

# rule, what differs from a plain case, verdict, effect, a part of the sentence
CASES = [
    ("CLOCK-01", days_old(41), MET, FOR, "41 days old; the window, usually 42 days"),
    ("CLOCK-01", days_old(42), MET, FOR, "42 days old"),
    ("CLOCK-01", days_old(43), NOT_MET, CAUTION, "closed on 24 Nov 2026"),
    ("CLOCK-01", days_old(35, "week"), MET, FOR, "28 to 42 days old"),
    ("CLOCK-01", days_old(36, "week"), NOT_MET, CAUTION, "may have closed on 24 Nov 2026"),
    ("CLOCK-01", days_old(50, "week"), NOT_MET, CAUTION, "43 to 57 days old"),
    ("CLOCK-01", {"onset_on": None}, UNDECIDED, None, "Not recorded: day of onset."),
    ("CLOCK-01", days_old(-1), UNDECIDED, None, "Onset 26 Nov 2026 lies after 25 Nov 2026"),
    ("HEALING-01", {"oedema": "none"} | days_old(-1), NOT_MET, CAUTION, "is not shown"),
    ("CLOCK-01", days_old(10, None), MET, FOR, "10 days old"),
    ("PAIN-01", {"pain_moving": 5}, MET, FOR, "Pain on movement 5 of 10; severe starts at 5."),
    ("PAIN-01", {"pain_moving": 4}, NOT_MET, CAUTION, "Pain on movement 4 of 10"),
    ("PAIN-01", {"pain_moving": 1}, NOT_MET, CAUTION, "Pain on movement 1 of 10"),
    ("PAIN-01", {"pain_moving": 0}, NOT_MET, AGAINST, "Pain on movement 0 of 10"),
    ("PAIN-02", {"pain_moving": 7}, MET, FOR, "7 of 10; commissioning asks for 7 or more"),
    ("PAIN-02", {"pain_moving": 6}, NOT_MET, AGAINST, "6 of 10"),
    ("PAIN-02", {"pain_moving": None}, UNDECIDED, None, "Not recorded: pain on movement."),
    ("PAIN-02", {"pain_moving": 3, "cause": "trauma"}, OUTSIDE, None, "trauma in normal bone"),
    ("PAIN-02", {"pain_moving": 3, "cause": "unclear"}, NOT_MET, AGAINST, "3 of 10"),
    ("PAIN-03", {}, MET, FOR, "matches the image"),
    ("PAIN-03", {"tender": False}, NOT_MET, CAUTION, "not tender"),
    ("PAIN-03", {"matches_imaging": False}, NOT_MET, AGAINST, "does not match"),
    ("PAIN-03", {"matches_imaging": False, "tender": None}, NOT_MET, AGAINST, "does not match"),
    ("PAIN-03", {"tender": None}, UNDECIDED, None, "Not recorded: tenderness at the level."),
    ("PAIN-04", {"analgesia_optimal": True}, MET, FOR, "judged optimal"),
    ("PAIN-04", {"analgesia_optimal": False}, NOT_MET, NOT_YET, "not optimal yet"),
    ("PAIN-04", {"analgesia_optimal": None}, UNDECIDED, None, "analgesia is optimal"),
    ("PAIN-04", {"analgesia_optimal": False, "failure_criteria": ("not_walking",)}, MET, FOR,
     "Conservative care fails: cannot walk"),
    ("PAIN-05", {"pain_trend": "improving"}, NOT_MET, AGAINST, "improving"),
    ("PAIN-05", {"pain_trend": "steady"}, MET, None, "unchanged"),
    ("PAIN-05", {"pain_trend": "worsening"}, MET, None, "getting worse"),
    ("HEALING-01", {"oedema": "band"}, MET, FOR, "Oedema on MRI (band)"),
    ("HEALING-01", {"oedema": "none"}, NOT_MET, CAUTION, "is not shown"),
    ("HEALING-01", {"oedema": "none"} | days_old(84), NOT_MET, CAUTION, "is not shown"),
    ("HEALING-01", {"oedema": "none"} | days_old(85), NOT_MET, CAUTION, "probably healed"),
    ("HEALING-01", {"oedema": "band"} | days_old(300), MET, FOR, "unhealed"),
    ("HEALING-01", {"oedema": None, "no_mri_reason": None}, UNDECIDED, None, "oedema on MRI"),
    ("HEALING-01", NO_MRI, MET, FOR, "not possible (implanted device); SPECT-CT shows"),
    ("HEALING-01", NO_MRI | {"equivalent_fresh": False}, NOT_MET, CAUTION, "does not show"),
    ("HEALING-01", NO_MRI | {"equivalent_fresh": None}, UNDECIDED, None, "what SPECT-CT shows"),
    ("HEALING-01", NO_MRI | {"equivalent_fresh": None, "mri_equivalent": None}, UNDECIDED, None,
     "no other examination is named"),
    ("NEUROLOGY-01", {"neurology": "N0"}, MET, None, "N0 intact"),
    ("NEUROLOGY-01", {"neurology": "N1"}, NOT_MET, CAUTION, "N1 transient"),
    ("NEUROLOGY-01", {"neurology": "N2"}, NOT_MET, URGENT, "N2 nerve root"),
    ("NEUROLOGY-01", {"neurology": "N3"}, NOT_MET, URGENT, "N3 incomplete"),
    ("NEUROLOGY-01", {"neurology": "N4"}, NOT_MET, URGENT, "N4 complete"),
    ("NEUROLOGY-01", {"neurology": "NX"}, UNDECIDED, None, "NX cannot be examined"),
    ("NEUROLOGY-01", {"neurology": None}, UNDECIDED, None, "Not recorded: neurological grade."),
    ("NEUROLOGY-02", {"epidural_grade": "1b"}, MET, None, "from 1c a spinal surgeon"),
    ("NEUROLOGY-02", {"epidural_grade": "1c"}, NOT_MET, URGENT, "Epidural grade 1c"),
    ("NEUROLOGY-02", {"epidural_grade": "3"}, NOT_MET, URGENT, "Epidural grade 3"),
    ("INFECTION-01", {"infection_state": "active"}, NOT_MET, URGENT, "Active spinal"),
    ("INFECTION-01", {"infection_state": "suspected"}, NOT_MET, URGENT, "suspected"),
    ("INFECTION-01", {"infection_state": "treated"}, NOT_MET, NOT_YET, "until it has cleared"),
    ("INFECTION-01", {"infection_signs": ("fever",)}, NOT_MET, NOT_YET, "not excluded: fever"),
    ("INFECTION-01", {"infection_signs": ("night_pain", "bacteraemia")}, NOT_MET, NOT_YET,
     "recent bloodstream infection"),
    ("INFECTION-01", {"infection_signs": ("night_pain",)}, NOT_MET, CAUTION, "May point to"),
    ("INFECTION-01", {}, MET, None, "No infection known."),
    ("INFECTION-01", {"infection_state": None}, MET, None, "No sign of infection"),
    ("INFECTION-01", {"infection_signs": None}, MET, None, "No infection known."),
    ("INFECTION-01", {"infection_state": None, "infection_signs": None}, UNDECIDED, None,
     "Neither infection nor signs"),
    ("INFECTION-01", {"cause": "infection"}, NOT_MET, URGENT, "judged to come from an infection"),
    ("INFECTION-02", {"disc_centred": False}, MET, None, "not centred on a disc"),
    ("INFECTION-02", {"disc_centred": True}, NOT_MET, NOT_YET, "as in infection"),
    ("INFECTION-03", {"crp_mg_l": D("9.9")}, MET, None, "9.9 mg/L; raised from 10 mg/L."),
    ("INFECTION-03", {"crp_mg_l": D(10)}, NOT_MET, CAUTION, "10 mg/L; raised from 10 mg/L."),
    ("TUMOUR-01", {}, MET, None, "None of six signs"),
    ("TUMOUR-01", {"convex_posterior_border": True}, NOT_MET, NOT_YET, "convex posterior border"),
    ("TUMOUR-01", {"pedicle_signal": True}, NOT_MET, NOT_YET, "abnormal pedicle signal"),
    ("TUMOUR-01", {"posterior_element_signal": True}, NOT_MET, NOT_YET, "21 of 29"),
    ("TUMOUR-01", {"epidural_mass": True}, NOT_MET, NOT_YET, "epidural mass"),
    ("TUMOUR-01", {"paraspinal_mass": True}, NOT_MET, NOT_YET, "16 of 29"),
    ("TUMOUR-01", {"other_lesions": True}, NOT_MET, NOT_YET, "other lesions"),
    ("TUMOUR-01", {"other_lesions": True, "pedicle_signal": None}, NOT_MET, NOT_YET, "lesions"),
    ("TUMOUR-01", {"pedicle_signal": None}, UNDECIDED, None, "abnormal pedicle signal"),
    ("TUMOUR-02", {"cancer_history": "no"}, MET, None, "No previous cancer"),
    ("TUMOUR-02", {"cancer_history": "past"}, NOT_MET, CAUTION, "in the past"),
    ("TUMOUR-02", {"cancer_history": "active"}, NOT_MET, NOT_YET, "up to one third"),
    ("TUMOUR-02", {"cause": "tumour"}, NOT_MET, NOT_YET, "judged to come from a tumour"),
    ("TUMOUR-03", {"level": "T5"}, MET, None, "T5 is at or below T5."),
    ("TUMOUR-03", {"level": "T4"}, NOT_MET, CAUTION, "T4 is above T5"),
    ("TUMOUR-04", {"mechanism": "none"}, MET, None, "T-score -2.8"),
    ("TUMOUR-04", {"mechanism": "none", "t_score": D("-1.1")}, MET, None, "T-score -1.1"),
    ("TUMOUR-04", {"mechanism": "none", "t_score": D("-1.0")}, NOT_MET, CAUTION, "not explained"),
    ("TUMOUR-04", {"mechanism": "none", "t_score": None, "attenuation_hu": 160}, MET, None,
     "160 HU"),
    ("TUMOUR-04", {"mechanism": "none", "t_score": None, "attenuation_hu": 161}, NOT_MET, CAUTION,
     "above 160 HU"),
    ("TUMOUR-04", {"mechanism": "none", "t_score": None, "attenuation_hu": None}, UNDECIDED, None,
     "Not recorded: T-score and L1 attenuation."),
    ("TUMOUR-04", {"mechanism": "low", "t_score": D(0)}, MET, None, "An injury is recorded"),
    ("TUMOUR-05", {"end_plates": "superior"}, MET, None, "Not the lower"),
    ("TUMOUR-05", {"end_plates": "both"}, MET, None, "Not the lower"),
    ("TUMOUR-05", {"end_plates": "inferior"}, NOT_MET, CAUTION, "so did 1.9 % of 263"),
    ("BLEEDING-01", {"inr": D("1.5")}, MET, None, "INR 1.5; accepted up to 1.5"),
    ("BLEEDING-01", {"inr": D("1.6")}, NOT_MET, CAUTION, "with caution up to 1.8"),
    ("BLEEDING-01", {"inr": D("1.8")}, NOT_MET, CAUTION, "INR 1.8"),
    ("BLEEDING-01", {"inr": D("1.9")}, NOT_MET, AGAINST, "Warfarin is not on the list"),
    ("BLEEDING-01", {"inr": D("1.9"), "antithrombotics": None}, NOT_MET, AGAINST,
     "Which drugs are taken is not recorded."),
    ("BLEEDING-01", {"inr": D("1.9"), "antithrombotics": (("warfarin", ""),)}, NOT_MET, NOT_YET,
     "Warfarin is being taken."),
    ("BLEEDING-02", {"platelets_10e9_l": D(50)}, MET, None, "Platelets 50 ×10⁹/L; enough from 50"),
    ("BLEEDING-02", {"platelets_10e9_l": D(49)}, NOT_MET, NOT_YET, "Platelets 49 ×10⁹/L"),
    ("BLEEDING-03", {"antithrombotics": ()}, MET, None, "No antithrombotic drug."),
    ("BLEEDING-03", {"antithrombotics": FIBRILLATION}, NOT_MET, CAUTION, "the approved table"),
    ("BLEEDING-03", {"antithrombotics": STENT}, NOT_MET, NOT_YET, "not without the team"),
    ("BLEEDING-03", {"antithrombotics": (("warfarin", "mechanical_valve"),)}, NOT_MET, NOT_YET,
     "mechanical heart valve"),
    ("BLEEDING-03", {"antithrombotics": (("apixaban", "venous_recent"),)}, NOT_MET, NOT_YET,
     "within 3 months"),
    ("BLEEDING-03", {"antithrombotics": (("aspirin", "stroke_recent"),)}, NOT_MET, NOT_YET,
     "within 3 months"),
    ("BLEEDING-03", {"antithrombotics": (("aspirin", ""),)}, UNDECIDED, None,
     "aspirin for a reason not recorded"),
    ("WALL-01", {"posterior_wall": "intact"}, MET, None, "Posterior wall intact."),
    ("WALL-01", {"posterior_wall": "under_fifth"}, NOT_MET, CAUTION, "less than one fifth"),
    ("WALL-01", WALL, NOT_MET, CAUTION, "one fifth or more"),
    ("WALL-02", {}, OUTSIDE, None, "The posterior wall is intact."),
    ("WALL-02", WALL, MET, None, "0 % of the canal"),
    ("WALL-02", WALL | {"canal_percent": 24}, NOT_MET, CAUTION, "24 % of the canal"),
    ("WALL-02", WALL | {"canal_percent": 25}, NOT_MET, NOT_YET, "from 25 % a spinal surgeon"),
    ("WALL-02", {"canal_percent": 25}, NOT_MET, NOT_YET, "25 % of the canal"),
    ("WALL-02", WALL | {"retropulsion_mm": D("0.1")}, NOT_MET, CAUTION, "0.1 mm"),
    ("WALL-02", WALL | {"canal_percent": None}, UNDECIDED, None, "share of the canal"),
    ("WALL-03", {}, MET, None, "The tension band is intact."),
    ("WALL-03", {"tension_band": "suspected"}, NOT_MET, NOT_YET, "suspected"),
    ("WALL-03", {"tension_band": "injured"}, NOT_MET, AGAINST, "an unstable fracture"),
    ("WALL-03", {"translation": True}, NOT_MET, AGAINST, "There is translation"),
    ("WALL-03", {"translation": None}, MET, None, "intact"),
    ("WALL-03", {"tension_band": None}, UNDECIDED, None, "tension band"),
    ("WALL-04", {"height_loss_percent": D(70)}, MET, None, "Height loss 70 %; extreme above 70 %."),
    ("WALL-04", {"height_loss_percent": D("70.01")}, NOT_MET, CAUTION, "Height loss 70.1 %"),
    ("WALL-04", {"height_loss_percent": D("69.99")}, MET, None, "Height loss 69.9 %"),
    ("BODY-01", {"age_years": 55}, MET, None, "Not pregnant."),
    ("BODY-01", {"age_years": 56}, OUTSIDE, None, "asked from 12 to 55"),
    ("BODY-01", {"age_years": 12, "pregnancy": "possible"}, NOT_MET, NOT_YET, "is possible"),
    ("BODY-01", {"age_years": 11, "pregnancy": "yes"}, OUTSIDE, None, "Not asked at the age of 11"),
    ("BODY-01", {"age_years": 30, "pregnancy": "yes"}, NOT_MET, AGAINST, "Pregnant"),
    ("BODY-01", {"age_years": 30, "sex": "male"}, OUTSIDE, None, "Not asked of men."),
    ("BODY-01", {"age_years": None, "sex": None, "pregnancy": None}, UNDECIDED, None, "pregnancy"),
    ("BODY-02", {"allergy_to_cement": False}, MET, None, "No allergy"),
    ("BODY-02", {"allergy_to_cement": True}, NOT_MET, AGAINST, "Allergy to acrylic cement"),
    ("BODY-03", {"allergy_to_contrast": False}, MET, None, "No allergy"),
    ("BODY-03", {"allergy_to_contrast": True}, NOT_MET, CAUTION, "plan without it"),
    ("BODY-04", {"levels_planned": 3}, MET, None, "in one session: 3; at most 3."),
    ("BODY-04", {"levels_planned": 4}, NOT_MET, CAUTION, "in one session: 4; at most 3."),
    ("BODY-05", {}, MET, None, "Reviewed by the team"),
    ("BODY-05", {"team_reviewed": False}, NOT_MET, NOT_YET, "team review"),
    ("BODY-05", {"bone_plan": False, "team_reviewed": None}, NOT_MET, NOT_YET, "bone health"),
    ("BODY-05", {"bone_plan": False, "cause": "tumour"}, OUTSIDE, None, "cause: tumour"),
    ("BODY-05", {"bone_plan": None}, UNDECIDED, None, "a plan for bone health"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("id", "changes", "verdict", "effect", "says"),
    CASES,
    ids=[f"{case[0]}-{n}" for n, case in enumerate(CASES)],
)
def test_each_side_of_each_bound(judge, id, changes, verdict, effect, says):
    result = judge(id, **changes)
    assert (result.verdict, result.effect) == (verdict, effect), result.sentence
    assert says in result.sentence


def test_every_rule_stands_here_with_every_effect_that_it_declares():
    shown = {id: set() for id, *_ in CASES}
    for id, _, verdict, effect, _ in CASES:
        shown[id] |= {verdict, effect}
    for rule in REGISTRY.values():
        assert shown[rule.id] >= {MET, *rule.effects}, rule.id


def test_what_waits_says_what_to_do_who_and_by_when(judge):
    for id, changes, _, effect, _ in CASES:
        if effect in (NOT_YET, URGENT):
            action = judge(id, **changes).outcome.action
            assert action is not None, id
            assert all((action.what, action.who, action.by)), id


def test_an_examination_that_was_not_possible_says_what_to_do(judge):
    action = judge("NEUROLOGY-01", neurology="NX").outcome.action
    assert action is not None
    assert "examine again" in action.what


def test_the_inputs_are_shown_as_recorded_with_their_day(judge):
    result = judge("BLEEDING-01", inr=D("1.60"), dates={"inr": date(2026, 11, 20)})
    used = {i.name: i for i in result.inputs}
    assert (used["inr"].value, used["inr"].observed_on) == ("1.6", date(2026, 11, 20))
    assert (used["antithrombotics"].value, used["antithrombotics"].observed_on) == ("none", None)


def test_the_bounds_are_shown_with_the_kind_of_their_source(judge):
    bound, _ = judge("BLEEDING-01").bounds
    assert (bound.words, bound.kind) == ("1.5", "second_hand")
    assert bound.source.endswith("from memory: confirm locally)")
