"""Run by the Python of QGIS: draw layers of a package as they style themselves, and tell of each.

usage: render.py PACKAGE PICTURE LAYER...    the layers from the bottom up; prints JSON
"""

import json
import os
import sys

from qgis.core import QgsApplication, QgsMapRendererParallelJob, QgsMapSettings, QgsVectorLayer
from qgis.PyQt.QtCore import QSize
from qgis.PyQt.QtGui import QColor

package, picture, *names = sys.argv[1:]
application = QgsApplication([], False)  # noqa: FBT003 - without windows
application.initQgis()
told = {}
layers = []
for name in names:
    layer = QgsVectorLayer(f"{package}|layername={name}", name, "ogr")
    message, _ = layer.loadDefaultStyle()
    rules = layer.renderer().rootRule().children()
    told[name] = {
        "is_valid": layer.isValid(),
        "crs": layer.crs().authid(),
        "rows": sum(1 for _ in layer.getFeatures()),
        "style": message,
        "rules": [rule.filterExpression() for rule in rules],
        "wrong": [
            e for e in (rule.filter().parserErrorString() for rule in rules if rule.filter()) if e
        ],
        "is_labelled": layer.labelsEnabled(),
        "columns": layer.fields().names(),
        "hidden": [c.name for c in layer.attributeTableConfig().columns() if c.hidden],
        "not_in_form": [
            field.name()
            for i, field in enumerate(layer.fields())
            if layer.editorWidgetSetup(i).type() == "Hidden"
        ],
    }
    layers.append(layer)
view = QgsMapSettings()
view.setLayers(layers[::-1])
view.setOutputSize(QSize(1500, 1200))
view.setBackgroundColor(QColor("white"))
view.setDestinationCrs(layers[0].crs())
extent = view.fullExtent()
extent.scale(1.1)
view.setExtent(extent)
job = QgsMapRendererParallelJob(view)
job.start()
job.waitForFinished()
job.renderedImage().save(picture)
print(json.dumps(told))
sys.stdout.flush()
os._exit(0)  # leaving by the front door can crash QGIS 3.22
