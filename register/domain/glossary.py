"""The words of the register: each in one sentence, grouped as the work goes.

A meaning names no number that a department may change: those stand in the
protocol with unit, source and day.
"""

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Group:
    """Words that belong together: (word, meaning) in the order of the work."""

    title: str
    words: tuple[tuple[str, str], ...]


GLOSSARY: Final = (
    Group(
        "What is missing",
        (
            (
                "not recorded",
                "Nobody has written anything. Never read as no, and never as nought.",
            ),
            ("not known", "Somebody asked, and nobody knows."),
            ("not done", "The examination or question was left out on purpose or by chance."),
            ("not applicable", "The question makes no sense for this patient."),
            ("declined", "The patient did not want to answer, or to be examined."),
            (
                "set aside, taken back",
                "Entered by mistake: out of every list and count, kept in the history with name "
                "and reason.",
            ),
        ),
    ),
    Group(
        "Fracture and clock",
        (
            ("fracture", "One vertebral level with one onset. The same level can break again."),
            (
                "onset",
                "The day the pain began, day 0 of the clock. Known to the day, within a week "
                "either way, or to the month or year only.",
            ),
            (
                "window",
                "The days after the onset in which a procedure is usually considered. Its close "
                "prompts a decision, never an operation. Its length stands in the protocol.",
            ),
            ("inside the window", "The last day of the window has not come."),
            ("last day of the window", "Today still counts as inside."),
            (
                "may be past the window",
                "The onset is not known to the day: by its earliest day the window has closed, by "
                "its latest it has not.",
            ),
            ("past the window", "The window has closed, whichever day of the onset is taken."),
            ("onset not recorded", "No clock runs. The fracture is placed by its referral."),
            (
                "urgent pathway",
                "A lasting neurological deficit, a suspected or active infection, or a canal "
                "narrowed as far as the protocol names. Not a place in a queue: somebody is told "
                "at once.",
            ),
            (
                "height loss",
                "The share of the expected height that is gone; the expected height comes from "
                "the measured neighbours.",
            ),
            (
                "measurement error",
                "A smaller change of height or angle may be nothing but measuring.",
            ),
            (
                "repeatability",
                "Two readings of one thing differ by less than this in 95 of 100 cases.",
            ),
            (
                "not comparable",
                "Two measurements whose postures or scales differ, or are not recorded. They are "
                "never subtracted: lying down alone lifts a body.",
            ),
            (
                "similar name",
                "Another patient’s name is easily mixed up with this one. Compare day of birth "
                "and number.",
            ),
        ),
    ),
    Group(
        "What the rules say",
        (
            (
                "assessment",
                "The rules applied to what was recorded on one day. It supports and decides "
                "nothing, and is kept as it was shown.",
            ),
            ("met", "The requirement of a rule is fulfilled. Never a harm."),
            (
                "not met",
                "Not fulfilled; the effect beside it says what follows.",
            ),
            ("cannot assess", "A fact is missing. It is asked for, not guessed."),
            ("not applicable (rule)", "The rule does not concern this case."),
            ("speaks for", "Supports a procedure."),
            ("caution", "To be weighed; it stops nothing."),
            ("not yet", "Can be put right first. The line says how, by whom and by when."),
            (
                "speaks against, needs a second name",
                "Whoever decides so all the same gives a reason, and a colleague who agrees. "
                "Nothing is forbidden.",
            ),
            ("refers on urgently", "Every elective route waits; somebody is asked today."),
            (
                "triage, the decision, the plan, the day of the procedure",
                "The four stages. A rule is due from its stage on; before that it counts only if "
                "it already speaks.",
            ),
            (
                "no longer up to date",
                "A fact, the protocol or the state of the window has changed since the assessment.",
            ),
            (
                "what would change the answer",
                "Missing facts that, tried one by one, lead to another answer.",
            ),
        ),
    ),
    Group(
        "Where numbers come from",
        (
            (
                "protocol",
                "The dated set of numbers that the department has approved, each with its source.",
            ),
            ("published and read", "The source was read at the place that is cited."),
            (
                "published, second-hand or from memory",
                "Cited by somebody else, or remembered. To be confirmed locally.",
            ),
            (
                "common practice, no source",
                "A habit of the trade. To be confirmed locally.",
            ),
            (
                "measured in this department",
                "From the department’s own repeat readings; it replaces the published value.",
            ),
            (
                "confirm locally",
                "The department has to confirm this number before relying on it.",
            ),
        ),
    ),
    Group(
        "Plan, list, operation",
        (
            ("plan", "One session in theatre for one patient, with one level or several."),
            ("draft", "Can be changed; cannot be listed."),
            ("approved", "Fixed in the name of a consultant. Only an approved plan is listed."),
            (
                "new here",
                "A technique of which the department has little experience, approved under "
                "conditions.",
            ),
            (
                "cement, orientation",
                "A volume to prepare for, not a target. Stop at the first sign of a leak.",
            ),
            (
                "isthmus",
                "The narrowest part of the pedicle, through which a needle and an implant go.",
            ),
            (
                "medial angle",
                "How far a needle turns inwards in the axial view; plus when it converges towards "
                "the midline in front.",
            ),
            (
                "no tolerance entered",
                "No source gives one, and the department has not set its own; nothing is judged.",
            ),
            ("being recorded", "The operation record is open; each part is saved by itself."),
            ("signed", "The operation record is closed. A later change needs a reason."),
            (
                "from a list of earlier procedures",
                "Done before the register was there and sent in as a file. Nobody signed it here; "
                "what the list did not tell is not recorded.",
            ),
            ("leak", "Cement outside the vertebral body, also without any consequence."),
            ("grade of a complication", "I to V, by what it took to treat it."),
        ),
    ),
    Group(
        "Follow-up",
        (
            (
                "contact",
                "One planned look at how the patient is. Its days stand in the protocol.",
            ),
            ("not due yet", "The window of the contact has not opened."),
            ("due", "The window is open and the target day is still to come, or today."),
            ("overdue", "The target day has passed; the window is still open."),
            ("window closed", "A score given now is kept and counted as outside the window."),
            ("try", "An attempt to reach the patient, with or without success."),
            (
                "died, withdrew, moved away, unable to answer, lost to follow-up",
                "The ways follow-up ends. They are counted apart in every audit.",
            ),
            (
                "important change",
                "A fall of a score that the protocol calls important to a patient.",
            ),
        ),
    ),
    Group(
        "Audit",
        (
            ("done", "A procedure belongs to the period in which it was done."),
            ("due (audit)", "A contact belongs to the period in which its window closed."),
            ("due and alive", "Due, less those who died before: the usual denominator."),
            (
                "seen in window, seen outside it, not seen",
                "What became of a contact that was due. Every one has exactly one fate.",
            ),
            (
                "interval",
                "The 95 % interval: how far chance alone can move a figure of so few. It says "
                "nothing about those who are missing.",
            ),
            (
                "bounds, worst case, best case",
                "The figure if all who are missing had failed, and if all had succeeded.",
            ),
            ("too few to tell", "The denominator is too small for an interval."),
            (
                "no comparison group",
                "Change after a procedure is not its effect: treatment, natural healing and "
                "regression to the mean cannot be told apart.",
            ),
            ("issued", "Numbers, input rows and PDF are frozen together."),
            ("digest", "A fingerprint: if one byte were changed, it would not fit."),
        ),
    ),
)


def words_explained() -> set[str]:
    """Return every word that is explained; a line may explain several, between commas."""
    return {
        part.strip()
        for group in GLOSSARY
        for word, _ in group.words
        for part in (word, *word.removesuffix(" (rule)").split(","))
    }
