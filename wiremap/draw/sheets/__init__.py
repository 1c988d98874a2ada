"""The record drawing on paper: what stands on each sheet, at a true scale.

Reads the layers of an as-built; returns a PDF. ``document`` is the way in.
"""
