"""The protocol: dated, sourced numbers of the department.

`shipped(day)` gives the values that come with the register; a department's own
approved set is stored as a full copy and read back with `ProtocolValues.from_json`.
"""

from register.domain.protocol.loader import shipped, shipped_sources
from register.domain.protocol.values import (
    UNITS,
    ProtocolError,
    ProtocolValue,
    ProtocolValues,
    Source,
    SourceKind,
)

__all__ = [
    "UNITS",
    "ProtocolError",
    "ProtocolValue",
    "ProtocolValues",
    "Source",
    "SourceKind",
    "shipped",
    "shipped_sources",
]
