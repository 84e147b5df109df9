"""Referral files: their columns, their rows, and what becomes of each row."""
