"""A refusal that a person can act on."""


class PlanningError(Exception):
    """What happened, and what to do. `code` is stable; the wording may improve.

    None of the three may hold a patient's identity: they reach the log.
    """

    def __init__(self, *, code: str, message: str, hint: str) -> None:
        super().__init__(f"{message} {hint}")
        self.code, self.message, self.hint = code, message, hint
