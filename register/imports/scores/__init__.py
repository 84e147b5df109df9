"""Follow-up scores as a file: one row for each contact that took place."""
