"""The as-built as KML 2.2, for phones and globes: plain, or zipped with its symbols as KMZ."""

from wiremap.write.kml.files import KML, KMZ, write_kml, write_kmz

__all__ = ["KML", "KMZ", "write_kml", "write_kmz"]
