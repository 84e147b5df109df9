"""placeholder"""


def refuse_unsafe_database() -> None: ...
