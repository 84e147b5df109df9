"""The demo scenario: an invented hospital, and the main job driven on it.

`scenario.make_scenario(today=..., seed=...)` is pure and writes nothing; `load`
puts what it made into a register; `drive` does the main job on it.
"""
