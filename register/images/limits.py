"""How much is taken, and how much a file may cost. Common practice, without a source.

The server itself holds one file while it comes in, or one picture twice while it is
handed on, so the first two bound by how much it grows: 96 and 128 MB.
"""

from typing import Final

MOST_BYTES: Final = 96_000_000  # of one file: an uncompressed film of 6,000 × 8,000
MOST_ANSWER: Final = 64_000_000  # of one picture as it is sent to the browser
MOST_FILES: Final = 2_000  # at a time
MOST_TOGETHER: Final = 1_500_000_000  # bytes of all files that are sent at a time, unpacked
MOST_RATIO: Final = 200  # unpacked to packed; scans pack to a half, mostly black ones to a fiftieth
RATIO_FROM: Final = 20_000_000  # bytes; below, no ratio is a danger
MOST_FRAMES: Final = 4_000  # in one file

# Of the reading process.
MEMORY: Final = 1024 * 1024 * 1024  # bytes of address space
SECONDS: Final = 20  # of processor time for one file
SECONDS_IN_ALL: Final = 6 * 3600
PATIENCE_S: Final = 60  # by the clock, for one file
OPEN_FILES: Final = 64
