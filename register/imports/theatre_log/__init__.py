"""Theatre logs: their columns, what becomes of each line, and which procedure it is."""
