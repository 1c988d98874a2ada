"""The plugin: adds the provider to the Processing toolbox, and takes it away again."""

from qgis.core import QgsApplication, QgsProcessingProvider

from .algorithms import BuildAlgorithm, CheckAlgorithm


class WiremapProvider(QgsProcessingProvider):
    """The provider and its two algorithms."""

    def id(self):
        return "wiremap"

    def name(self):
        return "wiremap"

    def loadAlgorithms(self):  # noqa: N802
        self.addAlgorithm(BuildAlgorithm())
        self.addAlgorithm(CheckAlgorithm())


class WiremapPlugin:
    """What QGIS starts and stops."""

    def __init__(self):
        self.provider = None

    def initProcessing(self):  # noqa: N802
        self.provider = WiremapProvider()
        QgsApplication.processingRegistry().addProvider(self.provider)

    def initGui(self):  # noqa: N802
        self.initProcessing()

    def unload(self):
        QgsApplication.processingRegistry().removeProvider(self.provider)
