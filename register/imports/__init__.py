"""Referral files: bytes to rows, rows to verdicts. Nothing here reads or writes the database."""
