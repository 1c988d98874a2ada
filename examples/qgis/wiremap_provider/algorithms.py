"""The algorithms: each runs one `wiremap` command and reports what it says."""

import os
import shutil
import sqlite3
import subprocess
from contextlib import closing
from pathlib import Path

from qgis.core import (
    QgsProcessingAlgorithm,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProcessingOutputBoolean,
    QgsProcessingOutputFile,
    QgsProcessingParameterFile,
    QgsProcessingParameterFolderDestination,
    QgsProcessingParameterString,
    QgsVectorLayer,
)

# Variables of the program that QGIS is; another Python and its GDAL must not see them.
OF_QGIS = ("PYTHONHOME", "PYTHONPATH", "GDAL_DATA", "GDAL_DRIVER_PATH", "PROJ_LIB", "PROJ_DATA")
DONE = (0, 1)  # 1 is done too, with findings of severity error


def find_program():
    """Return the `wiremap` command: as the variable says, else as found on the path."""
    return os.environ.get("WIREMAP_PROGRAM") or shutil.which("wiremap") or "wiremap"


class WiremapAlgorithm(QgsProcessingAlgorithm):
    """What both algorithms share: the folder, the program, and running it."""

    def createInstance(self):  # noqa: N802
        return type(self)()

    def group(self):
        return "As-builts"

    def groupId(self):  # noqa: N802
        return "asbuilts"

    def initAlgorithm(self, configuration=None):  # noqa: N802, ARG002 - as QGIS calls it
        folder = QgsProcessingParameterFile.Folder
        self.addParameter(QgsProcessingParameterFile("FOLDER", "Property folder", folder))
        self.addOutput(QgsProcessingOutputBoolean("HAS_ERRORS", "Findings of severity error"))

    def add_program(self):
        self.addParameter(
            QgsProcessingParameterString("PROGRAM", "Program", defaultValue=find_program())
        )

    def run(self, program, words, feedback):
        """Run the command; return whether there are findings of severity error."""
        environment = {k: v for k, v in os.environ.items() if k not in OF_QGIS}
        environment["PYTHONUTF8"] = "1"
        try:
            done = subprocess.run(  # noqa: S603 - a list of words, no shell
                [program, *words], env=environment, capture_output=True, text=True,
                encoding="utf-8", errors="replace", stdin=subprocess.DEVNULL, check=False,
            )  # fmt: skip
        except OSError as error:
            message = f"{program} cannot be run ({error}); give the full path of wiremap as Program"
            raise QgsProcessingException(message) from error
        for line in done.stdout.splitlines():
            feedback.pushInfo(line)
        if done.returncode not in DONE:
            raise QgsProcessingException(done.stderr.strip() or f"exit code {done.returncode}")
        return done.returncode == 1


class BuildAlgorithm(WiremapAlgorithm):
    """``wiremap build``, and the layers of the package into the project."""

    def name(self):
        return "build"

    def displayName(self):  # noqa: N802
        return "Build an as-built"

    def shortHelpString(self):  # noqa: N802
        return (
            "Turns the field locates of a property folder into an as-built: wires with depth and"
            " uncertainty, valves, faults, and an advisory dig-by-hand band. Advisory only; not a"
            " utility locate."
        )

    def initAlgorithm(self, configuration=None):  # noqa: N802
        super().initAlgorithm(configuration)
        self.addParameter(QgsProcessingParameterFolderDestination("OUT", "Folder to write into"))
        self.addParameter(
            QgsProcessingParameterString(
                "FORMATS", "Formats, parted by commas (the default ones where empty)", optional=True
            )
        )
        self.add_program()
        self.addOutput(QgsProcessingOutputFile("PACKAGE", "GeoPackage"))

    def processAlgorithm(self, parameters, context, feedback):  # noqa: N802
        out = self.parameterAsString(parameters, "OUT", context)
        words = ["build", self.parameterAsFile(parameters, "FOLDER", context), "-o", out]
        formats = self.parameterAsString(parameters, "FORMATS", context).split(",")
        for name in (name.strip() for name in formats):
            words += ["--format", name] if name else []
        program = self.parameterAsString(parameters, "PROGRAM", context)
        has_errors = self.run(program, words, feedback)
        packages = sorted(Path(out).glob("*.gpkg"), key=lambda path: path.stat().st_mtime)
        if packages:
            load_layers(packages[-1], context)
        package = str(packages[-1]) if packages else ""
        return {"OUT": out, "PACKAGE": package, "HAS_ERRORS": has_errors}


def load_layers(package, context):
    """Let the layers that have rows be added to the project, in their own styles."""
    with closing(sqlite3.connect(f"file:{package}?mode=ro", uri=True)) as db:
        rows = db.execute(
            "SELECT f_table_name FROM layer_styles JOIN gpkg_ogr_contents ON table_name ="
            " f_table_name WHERE feature_count > 0 ORDER BY id"
        )
        names = [row[0] for row in rows]
    for name in names:
        layer = QgsVectorLayer(f"{package}|layername={name}", name, "ogr")
        context.temporaryLayerStore().addMapLayer(layer)
        details = QgsProcessingContext.LayerDetails(name, context.project(), name)
        context.addLayerToLoadOnCompletion(layer.id(), details)


class CheckAlgorithm(WiremapAlgorithm):
    """``wiremap check``: what is wrong with a property folder; writes nothing."""

    def name(self):
        return "check"

    def displayName(self):  # noqa: N802
        return "Check field data"

    def shortHelpString(self):  # noqa: N802
        return "Lists what is wrong, doubtful or missing in a property folder. Writes nothing."

    def initAlgorithm(self, configuration=None):  # noqa: N802
        super().initAlgorithm(configuration)
        self.addParameter(
            QgsProcessingParameterString("PROFILE", "Requirement profile", optional=True)
        )
        self.add_program()

    def processAlgorithm(self, parameters, context, feedback):  # noqa: N802
        words = ["check", self.parameterAsFile(parameters, "FOLDER", context)]
        profile = self.parameterAsString(parameters, "PROFILE", context)
        words += ["--profile", profile] if profile else []
        program = self.parameterAsString(parameters, "PROGRAM", context)
        return {"HAS_ERRORS": self.run(program, words, feedback)}
