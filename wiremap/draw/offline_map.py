"""folium elements that link to nothing and hand no text to a template.

folium compiles what it is given as a template, so field text goes into data blocks as raw markup
and layers carry names of the project's own only.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, cast

import folium
from branca.element import Element, Figure, MacroElement
from folium.map import Layer
from folium.template import Template

from wiremap.draw import page, styles
from wiremap.draw.leaflet import read_leaflet
from wiremap.draw.theme import theme_css

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

SCRIPTS = ("site", "symbols", "layers", "pick", "profiles", "cards", "panel", "tools", "start")
"""The page's own scripts, in the order they run."""

_LABELS = {"wires": "Wires"}


class _Raw(Element):
    """Markup that goes into the page as it is: nothing compiles it."""

    def __init__(self, markup: str, *, name: str) -> None:
        super().__init__()
        self._name = "Raw"
        self._id = name
        self.markup = markup

    def render(self, **_: Any) -> str:
        """Return the markup."""
        return self.markup


class FeatureLayer(Layer):
    """A layer of the map by its name; what it shows stands in the page's data blocks.

    Parameters
    ----------
    layer : str
        One of `DRAWN`.
    shown : bool
        Whether the map opens with the layer switched on.
    """

    _template = Template(
        """
        {% macro script(this, kwargs) %}
            var {{ this.get_name() }} =
                wiremap.layer({{ this._parent.get_name() }}, {{ this.layer|tojson }});
            {% if this.show %}
            {{ this.get_name() }}.addTo({{ this._parent.get_name() }});
            {% endif %}
        {% endmacro %}
        """
    )

    def __init__(self, layer: str, *, shown: bool) -> None:
        label = _LABELS[layer] if layer in _LABELS else styles.STYLES[layer].label
        super().__init__(name=label, overlay=True, control=True, show=shown)
        self._name = "FeatureLayer"
        self._id = layer
        self.layer = layer

    def render(self, **kwargs: Any) -> None:  # type: ignore[override]
        """Add the layer's script; folium's own way adds it once more at each rendering."""
        MacroElement.render(self, **kwargs)  # type: ignore[no-untyped-call]


class Start(MacroElement):
    """Opens the record on its map once everything is on the page."""

    _template = Template(
        """
        {% macro script(this, kwargs) %}
            wiremap.start({{ this._parent.get_name() }});
        {% endmacro %}
        """
    )

    def __init__(self) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self._name = "Start"
        self._id = "wiremap"


class Site(MacroElement):
    """The page's data blocks, style and scripts; stands before the layers that use them."""

    def __init__(self, blocks: Mapping[str, str], *, with_leaflet: bool) -> None:
        super().__init__()  # type: ignore[no-untyped-call]
        self._name = "Site"
        self._id = "wiremap"
        self.blocks = dict(blocks)
        self.with_leaflet = with_leaflet

    def render(self, **kwargs: Any) -> None:  # type: ignore[override]
        """Add style, scripts and data to the figure's header."""
        header = cast("Figure", self.get_root()).header
        data = ((f"data-{name}", _data_block(name, text)) for name, text in self.blocks.items())
        parts = (*data, *(_leaflet_parts() if self.with_leaflet else ()), *_own_parts())
        for name, markup in parts:
            header.add_child(_Raw(markup, name=name), name=f"wiremap-{name}")
        super().render(**kwargs)  # type: ignore[no-untyped-call]


@dataclass
class Contents:
    """What a saved page holds beside the map."""

    title: str
    still: str
    image_hosts: tuple[str, ...] = ()


class OfflineMap(folium.Map):
    """A folium map that links to nothing and saves as one page with all it needs.

    Attributes
    ----------
    contents : object
        What the saved page holds beside the map.
    """

    _template = Template(
        """
        {% macro html(this, kwargs) %}
            <div class="folium-map" id={{ this.get_name()|tojson }}></div>
        {% endmacro %}
        {% macro script(this, kwargs) %}
            var {{ this.get_name() }} = L.map({{ this.get_name()|tojson }}, {
                center: {{ this.location|tojson }}, ...{{ this.options|tojavascript }}
            });
        {% endmacro %}
        """
    )
    default_js: list[tuple[str, str]] = []  # noqa: RUF012 - folium's own protocol
    default_css: list[tuple[str, str]] = []  # noqa: RUF012

    contents: Contents | None = None

    def __init__(self, **options: Any) -> None:
        super().__init__(tiles=None, zoom_control=False, control_scale=False, **options)
        self._id = "site"

    def page(self) -> str:
        """Return the whole page as text.

        Returns
        -------
        str
            HTML that asks for no outside file.
        """
        contents = self.contents or Contents("", "")
        figure = cast("Figure", self.get_root())
        figure.render()
        return page.assemble_page(
            title=contents.title,
            head=_children(figure.header, without=("meta_http",)),
            body=contents.still + _children(figure.html),
            scripts=_children(figure.script),
            image_hosts=contents.image_hosts,
        )

    def save(self, outfile: Any, close_file: bool = True, **_: Any) -> None:  # noqa: FBT001, FBT002 - folium's signature
        """Write the page to a file.

        Parameters
        ----------
        outfile : str, Path or binary file
        close_file : bool, default True
            Whether an open file is closed afterwards.
        """
        data = self.page().encode()
        if not hasattr(outfile, "write"):
            with open(outfile, "wb") as file:  # noqa: PTH123 - str or Path, as folium takes
                file.write(data)
            return
        outfile.write(data)
        if close_file:
            outfile.close()


def _children(element: Element, *, without: Sequence[str] = ()) -> str:
    rendered = (c.render() for n, c in element._children.items() if n not in without)  # noqa: SLF001
    return "\n".join(rendered)


def _data_block(name: str, text: str) -> str:
    return f'<script type="application/json" id="wiremap-data-{name}">{text}</script>'


@cache
def _leaflet_parts() -> tuple[tuple[str, str], ...]:
    leaflet = read_leaflet()
    return (
        ("leaflet-style", f"<style>{leaflet.style}</style>"),
        (
            "leaflet-licence",
            f'<script type="text/plain" id="leaflet-licence">{leaflet.licence}</script>',
        ),
        ("leaflet-script", f"<script>{leaflet.script}</script>"),
    )


@cache
def _own_parts() -> tuple[tuple[str, str], ...]:
    assets = files("wiremap.draw") / "assets"
    scripts = "\n".join((assets / f"{name}.js").read_text(encoding="utf-8") for name in SCRIPTS)
    style = (assets / "map.css").read_text(encoding="utf-8")
    return (
        ("style", f"<style>{theme_css()}\n{style}</style>"),
        ("script", f"<script>{scripts}</script>"),
    )
