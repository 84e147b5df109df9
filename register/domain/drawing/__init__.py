"""Drawings as SVG text: measured vertebrae, the spine strip, the clock, the course of a score.

Pure: numbers in, text out. Every shape carries a class, so that the screen's
stylesheet decides, and plain presentation attributes, so that the same text
looks right in a PDF, where that stylesheet does not reach. No style attribute
is ever written: the content security policy forbids it.
"""
