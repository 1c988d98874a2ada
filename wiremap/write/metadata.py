"""What the whole package is, and the caution, as one metadata record inside it.

GeoPackage metadata extension (OGC 12-128r17, annex F.8) with a record in the XML of ISO 19139, the
form that catalogues and desktop GIS read.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

from wiremap.draw.record import CAUTION
from wiremap.write.plain_text import plain_text

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Mapping

STANDARD = "http://www.isotc211.org/2005/gmd"
_GCO = "http://www.isotc211.org/2005/gco"
_CODES = "http://standards.iso.org/iso/19139/resources/gmxCodelists.xml"
_TABLES = (
    """CREATE TABLE gpkg_metadata (
        id INTEGER CONSTRAINT m_pk PRIMARY KEY ASC NOT NULL,
        md_scope TEXT NOT NULL DEFAULT 'dataset', md_standard_uri TEXT NOT NULL,
        mime_type TEXT NOT NULL DEFAULT 'text/xml', metadata TEXT NOT NULL DEFAULT '')""",
    """CREATE TABLE gpkg_metadata_reference (
        reference_scope TEXT NOT NULL, table_name TEXT, column_name TEXT, row_id_value INTEGER,
        timestamp DATETIME NOT NULL DEFAULT (strftime('%Y-%m-%dT%H:%M:%fZ','now')),
        md_file_id INTEGER NOT NULL, md_parent_id INTEGER,
        CONSTRAINT crmr_mfi_fk FOREIGN KEY (md_file_id) REFERENCES gpkg_metadata(id),
        CONSTRAINT crmr_mpi_fk FOREIGN KEY (md_parent_id) REFERENCES gpkg_metadata(id))""",
)
_DEFINITION = "http://www.geopackage.org/spec130/#extension_metadata"


def add_metadata(
    db: sqlite3.Connection, context: Mapping[str, Any], *, timestamp: str | None = None
) -> None:
    """Write the record of the whole package.

    Parameters
    ----------
    db : sqlite3.Connection
        A GeoPackage with the table ``gpkg_extensions``; the caller commits.
    context : mapping
        ``name``, ``settings`` and ``frame``.
    timestamp : str, optional
        ISO 8601; the time of writing where None.
    """
    for statement in _TABLES:
        db.execute(statement)
    db.executemany(
        "INSERT INTO gpkg_extensions VALUES (?, NULL, 'gpkg_metadata', ?, 'read-write')",
        [(table, _DEFINITION) for table in ("gpkg_metadata", "gpkg_metadata_reference")],
    )
    db.execute(
        "INSERT INTO gpkg_metadata (id, md_standard_uri, metadata) VALUES (1, ?, ?)",
        (STANDARD, write_record(context)),
    )
    db.execute(
        "INSERT INTO gpkg_metadata_reference (reference_scope, timestamp, md_file_id) VALUES"
        " ('geopackage', coalesce(?, strftime('%Y-%m-%dT%H:%M:%fZ','now')), 1)",
        (timestamp,),
    )


def write_record(context: Mapping[str, Any]) -> str:
    """Return the metadata record as XML.

    Parameters
    ----------
    context : mapping
        ``name``, ``settings`` and ``frame``.

    Returns
    -------
    str
        Title, abstract, who made it, CRS, and the caution as a limitation of use.
    """
    stated, frame = context["settings"].property, context["frame"]
    made_on = stated.prepared_on.isoformat() if stated.prepared_on else ""
    root = ET.Element("gmd:MD_Metadata", {"xmlns:gmd": STANDARD, "xmlns:gco": _GCO})
    _add_text(root, "gmd:language", "eng")
    _add_code(root, "gmd:hierarchyLevel", "MD_ScopeCode", "dataset")
    party = _add(root, "gmd:contact", "gmd:CI_ResponsibleParty")
    _add_text(party, "gmd:organisationName", plain_text(stated.prepared_by) or "not stated")
    _add_code(party, "gmd:role", "CI_RoleCode", "author")
    _add_date(root, "gmd:dateStamp", made_on)
    reference = _add(root, "gmd:referenceSystemInfo", "gmd:MD_ReferenceSystem")
    identifier = _add(reference, "gmd:referenceSystemIdentifier", "gmd:RS_Identifier")
    authority = frame.crs.to_authority()
    _add_text(identifier, "gmd:code", authority[1] if authority else frame.crs.name)
    _add_text(identifier, "gmd:codeSpace", authority[0] if authority else "by name")
    identification = _add(root, "gmd:identificationInfo", "gmd:MD_DataIdentification")
    citation = _add(identification, "gmd:citation", "gmd:CI_Citation")
    _add_text(citation, "gmd:title", f"Irrigation wire as-built of {plain_text(context['name'])}")
    date = _add(citation, "gmd:date", "gmd:CI_Date")
    _add_date(date, "gmd:date", made_on)
    _add_code(date, "gmd:dateType", "CI_DateTypeCode", "creation")
    _add_text(identification, "gmd:abstract", _ABSTRACT)
    limits = _add(identification, "gmd:resourceConstraints", "gmd:MD_Constraints")
    _add_text(limits, "gmd:useLimitation", CAUTION)
    _add_text(identification, "gmd:language", "eng")
    return ET.tostring(root, encoding="unicode")


_ABSTRACT = (
    "Control wires, valves, splices, faults and depths of an irrigation system, from field locates."
    " Lengths are metres, angles degrees, resistances ohms. Columns in sigma are one standard"
    " deviation; position_rms_m is a horizontal radial RMS. The table provenance states inputs,"
    " coordinate operation and settings; the table findings what is wrong or doubtful."
)


def _add(parent: ET.Element, role: str, kind: str) -> ET.Element:
    return ET.SubElement(ET.SubElement(parent, role), kind)


def _add_text(parent: ET.Element, role: str, text: str) -> None:
    _add(parent, role, "gco:CharacterString").text = text


def _add_date(parent: ET.Element, role: str, date: str) -> None:
    """Add a date; where none is known the element says so."""
    element = ET.SubElement(parent, role)
    if date:
        ET.SubElement(element, "gco:Date").text = date
    else:
        element.set("gco:nilReason", "unknown")


def _add_code(parent: ET.Element, role: str, code_list: str, value: str) -> None:
    element = _add(parent, role, f"gmd:{code_list}")
    element.set("codeList", f"{_CODES}#{code_list}")
    element.set("codeListValue", value)
    element.text = value
