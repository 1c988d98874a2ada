"""The colours of `wiremap.draw.styles` as style sheet rules, light and dark.

Returns CSS made of the project's own constants only.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from wiremap.draw import styles

if TYPE_CHECKING:
    from collections.abc import Iterator


@cache
def theme_css() -> str:
    """Return the rules that colour every class the map draws.

    Returns
    -------
    str
        Light colours, dark ones where the reader's device or the page asks for them, and light
        ones again in print.

    Examples
    --------
    >>> ".wm-faults-break{" in theme_css()
    True
    """
    light = "".join(f"--wm-{name}:{ink.light};" for name, ink in _inks())
    dark = "".join(f"--wm-{name}:{ink.dark};" for name, ink in _inks())
    auto = ":root:not([data-theme=light])"
    return "\n".join(
        (
            f":root{{color-scheme:light;{light}}}",
            f"@media screen and (prefers-color-scheme:dark){{{auto}{{color-scheme:dark;{dark}}}}}",
            f"@media screen{{:root[data-theme=dark]{{color-scheme:dark;{dark}}}}}",
            *_rules(),
        )
    )


def _inks() -> Iterator[tuple[str, styles.Ink]]:
    yield "paper", styles.PAPER
    yield "graphite", styles.GRAPHITE
    yield "copper", styles.COPPER
    yield "shared", styles.SHARED_WIRE.ink
    yield "tracer", styles.Ink("#ffffff", styles.PAPER.dark)
    for place, ink in enumerate(styles.WIRE_INKS):
        yield f"wire-{place}", ink
    for name, style in _styles():
        yield name, style.ink
        if style.fill is not None:
            yield f"{name}-fill", style.fill


def _styles() -> Iterator[tuple[str, styles.Style]]:
    """Yield every style with its class: layers, kinds within them, the base."""
    for layer, style in styles.STYLES.items():
        yield layer.replace("_", "-"), style
        for kind, under in style.kinds.items():
            yield f"{layer}-{kind}".replace("_", "-"), under
    yield "repaired", styles.REPAIRED
    for kind, style in styles.BASE_STYLES.items():
        yield f"base-{kind}", style


def _rules() -> Iterator[str]:
    for place in range(len(styles.WIRE_INKS)):
        yield f".wm-wire-{place}{{stroke:var(--wm-wire-{place});--wm-zone:var(--wm-wire-{place})}}"
    yield ".wm-wire-shared{stroke:var(--wm-shared);--wm-zone:var(--wm-shared)}"
    for name, style in _styles():
        fill = f"fill:var(--wm-{name}-fill)" if style.fill is not None else ""
        yield f".wm-{name}{{stroke:var(--wm-{name});{fill}}}"
