"""Measurements of speed, as ratios where a ratio is what was promised; `manage.py bench NAME`.

Each module here has `run(*, say)`, which tells its figures by `say`. Nothing is asserted: a
busy machine is slow without being wrong. A module whose name begins with an underscore is
a helper.
"""
