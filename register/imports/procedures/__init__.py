"""Lists of earlier procedures: their columns, their rows, and what becomes of each row."""
