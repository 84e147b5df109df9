"""The main job, driven end to end through the application's own services.

From a referral file to a printed audit: each step does what a person would do
on a page, checks what came of it, and tells what it wrote. Nothing is skipped
and nothing is written past the services.
"""

from collections.abc import Callable
from typing import Final

from reports.demo import steps_to_audit as after
from reports.demo import steps_to_decision as before
from reports.demo.job import DriveFailed, Job

STEPS: Final[tuple[tuple[str, Callable[[Job], None]], ...]] = (
    ("Import a referral file", before.import_referrals),
    ("Find the fracture on the worklist", before.find_waiting),
    ("Record findings and heights", before.record_findings),
    ("Assess", before.assess),
    ("Decide", before.decide),
    ("Plan and approve", after.plan),
    ("List the case and print the list", after.list_case),
    ("Record the procedure", after.record_procedure),
    ("Sign and schedule follow-up", after.sign_procedure),
    ("Enter scores and a reason instead", after.enter_scores),
    ("Issue the quarter's audit", after.issue_audit),
)


def drive(job: Job) -> None:
    """Do every step. Raises DriveFailed naming the step and what went wrong."""
    for place, (title, step) in enumerate(STEPS, start=1):
        job.say(f"{place:2d} {title}")
        try:
            step(job)
        except Exception as error:
            raise DriveFailed(f"Step {place}, {title.lower()}: {words_of(error)}") from error


def words_of(error: Exception) -> str:
    """Return an error in the words that a page would show."""
    told = getattr(error, "messages", None)
    return " ".join(told) if told else str(error) or type(error).__name__
