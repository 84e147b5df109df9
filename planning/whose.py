"""Whose record the addresses of planning are about."""

from planning.record_kinds import KINDS
from register.entry.whose import belongs

belongs("plan_id", "planning.ProcedurePlan", "patient")
belongs("entry_id", "planning.ListEntry", "plan__patient")
belongs("assessment_id", "planning.Assessment", "fracture__patient")
belongs("planned-level:level_id", "planning.PlannedLevel", "plan__patient")
belongs("planned_id", "planning.PlannedLevel", "plan__patient")
belongs("level_id", "register.TreatedLevel", "procedure__patient")
belongs("implant:part_id", "register.ImplantUse", "level__procedure__patient")
belongs("cement:part_id", "register.CementUse", "level__procedure__patient")
belongs("leak:part_id", "register.Leak", "level__procedure__patient")
belongs("complication:part_id", "register.Complication", "procedure__patient")

for kind in KINDS:
    belongs(f"{kind.code}:record_id", kind.model._meta.label, kind.path)
