"""The portfolio's map: one page, no network, each property a mark that leads to its own map."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING
from urllib.parse import quote

from wiremap.bulk.records import SEVERITIES
from wiremap.draw.leaflet import read_leaflet
from wiremap.draw.page import assemble_page, html_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from wiremap.bulk.records import Outcome

ROWS_AT_MOST = 2_000
"""Rows of the table (project choice: a page that a phone still scrolls); the map shows all."""

_RANKS = {severity: rank for rank, severity in enumerate(("failed", *SEVERITIES, ""))}

_STYLE = """<style>
:root{color-scheme:light dark;--error:#b3261e;--warning:#9a6700;--note:#0b5cad;--none:#2f6b3a}
@media (prefers-color-scheme:dark){:root{--error:#ff8a80;--warning:#f0c050;--note:#82b6f5;
--none:#8fd19e}}
body{margin:0;background:Canvas;color:CanvasText;font:16px/1.4 system-ui,sans-serif}
header,main{padding:.5rem 1rem}
h1{font-size:1.4rem;margin:.25rem 0}
#map{height:60vh;background:Canvas}
table{border-collapse:collapse;width:100%}
th,td{text-align:left;padding:.35rem .75rem .35rem 0;border-bottom:1px solid GrayText}
td.n{text-align:right}
.error,.failed{color:var(--error)}.warning{color:var(--warning)}
.leaflet-container{font:inherit}
@media print{#map{display:none}}
</style>"""

_SCRIPT = """
(function () {
  var sites = JSON.parse(document.getElementById("sites").textContent);
  var map = L.map("map", {preferCanvas: true, attributionControl: false});
  var css = getComputedStyle(document.documentElement);
  var bounds = [];
  sites.forEach(function (site) {
    var color = css.getPropertyValue("--" + (site.worst || "none")).trim();
    var card = document.createElement("div");
    var title = document.createElement(site.link ? "a" : "b");
    title.textContent = site.name;
    if (site.link) { title.href = site.link; }
    card.appendChild(title);
    card.appendChild(document.createElement("br"));
    card.appendChild(document.createTextNode(site.line));
    var label = document.createElement("span");
    label.textContent = site.name;
    var outline = L.polygon(site.ring, {color: color, weight: 2}).bindPopup(card).addTo(map);
    L.circleMarker(outline.getBounds().getCenter(), {color: color, radius: 8})
      .bindPopup(card).bindTooltip(label).addTo(map);
    bounds = bounds.concat(site.ring);
  });
  if (bounds.length) { map.fitBounds(bounds, {padding: [30, 30]}); }
  else { map.setView([0, 0], 2); }
}());
"""


def draw_overview(outcomes: Sequence[Outcome]) -> str:
    """Return the portfolio's map and table as one page.

    Parameters
    ----------
    outcomes : sequence of Outcome
        Those that failed stand in the table only.

    Returns
    -------
    str
        HTML that asks for no outside file; without scripts the table is still there.
    """
    good = [o for o in outcomes if o.status != "failed"]
    data = json.dumps([_site(o) for o in good]).replace("<", "\\u003c")
    leaflet = read_leaflet()
    return assemble_page(
        title="Portfolio",
        head=f"<style>{leaflet.style}</style>\n{_STYLE}",
        body=(
            f"<header><h1>Portfolio</h1><p>{_describe(outcomes)}</p></header>\n"
            '<div id="map" role="application" aria-label="Map of the properties"></div>\n'
            f"<main>{_table(outcomes)}</main>\n"
            f'<script type="application/json" id="sites">{data}</script>\n'
            f'<script type="text/plain" id="leaflet-licence">{leaflet.licence}</script>\n'
            f"<script>{leaflet.script}</script>"
        ),
        scripts=_SCRIPT,
    )


def _describe(outcomes: Sequence[Outcome]) -> str:
    from wiremap.steps.buffers import ADVISORY

    length_m = sum(o.wire_length_m for o in outcomes)
    lost = sum(o.status == "failed" for o in outcomes)
    errors = sum(o.worst == "error" for o in outcomes)
    return (
        f"{len(outcomes) - lost} properties, {length_m:,.0f} m of wire; {errors} with findings of "
        f"severity error; {lost} could not be built. {html_text(ADVISORY)}"
    )


def _line(outcome: Outcome) -> str:
    found = ", ".join(f"{outcome.severities.get(s, 0)} {s}s" for s in SEVERITIES)
    return f"{outcome.counts.get('wire_runs', 0)} runs, {outcome.wire_length_m:,.0f} m; {found}"


def _link(outcome: Outcome) -> str:
    page = f"{outcome.slug}.html"
    return quote(f"{outcome.out}/{page}") if page in outcome.files else ""


def _site(outcome: Outcome) -> dict[str, object]:
    import shapely

    corners = shapely.get_coordinates(shapely.from_wkt(outcome.footprint))
    return {
        "name": outcome.name,
        "link": _link(outcome),
        "worst": outcome.worst,
        "line": _line(outcome),
        "ring": corners[:, ::-1].tolist(),
    }


def _table(outcomes: Sequence[Outcome]) -> str:
    """Return the properties as a table, those that need care first."""
    ranked = sorted(outcomes, key=lambda o: (_rank(o), o.path))
    rows = "".join(_row(o) for o in ranked[:ROWS_AT_MOST])
    left = len(ranked) - ROWS_AT_MOST
    more = f"<p>{left} more are on the map and in summary.csv.</p>" if left > 0 else ""
    head = "<th>Property</th><th>Folder</th><th>Worst finding</th><th>What was found</th>"
    return f"<table><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>{more}"


def _rank(outcome: Outcome) -> int:
    return _RANKS["failed" if outcome.status == "failed" else outcome.worst]


def _row(outcome: Outcome) -> str:
    worst = "failed" if outcome.status == "failed" else outcome.worst
    name, link = html_text(outcome.name), _link(outcome)
    title = f'<a href="{html_text(link)}">{name}</a>' if link else name
    line = f"{outcome.error}: {outcome.message}" if worst == "failed" else _line(outcome)
    cells = (title, html_text(outcome.path), worst or "none", html_text(line))
    inside = "".join(f"<td>{cell}</td>" for cell in cells)
    return f'<tr class="{worst}">{inside}</tr>'
