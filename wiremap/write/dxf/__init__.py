"""The as-built as a DXF drawing in the working CRS: polylines, blocks with attributes, text.

Nothing else is used, so that any CAD program reads it: no leaders, no dimensions, no hatches.
"""

from wiremap.write.dxf.drawing import WRITER, unit_code, write_dxf

__all__ = ["WRITER", "unit_code", "write_dxf"]
