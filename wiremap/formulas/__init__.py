"""Arithmetic on floats and arrays; no tables, no files."""
