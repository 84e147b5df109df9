"""Campaigns that try to break what must not break; `manage.py drill NAME` runs one.

Each module here, in `planning.drills` and in `reports.drills` has
`run(*, runs, seed, say) -> bool`: it does its worst `runs` times, repeatably by
`seed`, tells its figures by `say`, and returns True when all was as it should be.
A test runs a small version of each; the command runs the large one. A module whose
name begins with an underscore is a helper of drills.
"""
