"""What one run of the main job knows, and how its steps speak."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Final

from planning.models import Assessment, Decision, ListEntry, ProcedurePlan, TheatreSession
from register.models import Fracture, Patient, Procedure, Site, User
from reports.demo.load import SITE_CODE

# The driven patients' numbers begin far above those of the scenario.
FIRST_NUMBER: Final = 5000
Say = Callable[[str], None]


class DriveFailed(Exception):
    """A step did not do what it should; the message says which and what."""


@dataclass
class Job:
    """What one run knows so far. `out` is the folder for the files it writes."""

    site: Site
    today: date
    out: Path
    say: Say
    number: int = 0
    people: dict[str, User] = field(default_factory=dict)
    patient: Patient = field(init=False)
    fracture: Fracture = field(init=False)
    assessment: Assessment = field(init=False)
    decision: Decision = field(init=False)
    plan: ProcedurePlan = field(init=False)
    session: TheatreSession = field(init=False)
    entry: ListEntry = field(init=False)
    procedure: Procedure = field(init=False)

    def require(self, holds: bool, otherwise: str) -> None:
        """Raise DriveFailed unless something holds."""
        if not holds:
            raise DriveFailed(otherwise)

    def wrote(self, name: str, content: bytes) -> None:
        """Write a file into the out folder and say where it is."""
        path = self.out / name
        path.write_bytes(content)
        self.say(f"   wrote {path} ({len(content):,} bytes)")


def job_on(*, today: date, out: Path, say: Say) -> Job:
    """Return a job at the demo department. Raises DriveFailed when the demo is not loaded."""
    site = Site.objects.filter(code=SITE_CODE).first()
    if site is None:
        raise DriveFailed("The demo department is not loaded. Run load_demo first.")
    out.mkdir(parents=True, exist_ok=True)
    driven = Patient.objects.filter(site=site, hospital_number__startswith="HD").count()
    people = {person.username: person for person in User.objects.filter(site=site)}
    return Job(site, today, out, say, number=FIRST_NUMBER + driven, people=people)


def told(counts: dict[str, int]) -> str:
    """Return "1 new, 1 refused"; what does not occur is left out."""
    return ", ".join(f"{count} {name}" for name, count in counts.items() if count)
