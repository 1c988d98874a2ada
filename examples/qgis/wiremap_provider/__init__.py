"""wiremap in the Processing toolbox."""


def classFactory(iface):  # noqa: N802, ARG001 - as QGIS calls it
    """Return the plugin."""
    from .plugin import WiremapPlugin

    return WiremapPlugin()
