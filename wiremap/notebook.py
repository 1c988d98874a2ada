"""The ``.wiremap`` accessor on tables of locates: each method is one delegating line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd

from wiremap.model.settings import Settings

if TYPE_CHECKING:
    from wiremap.steps.checks import Checked
    from wiremap.steps.placement import Placed


@pd.api.extensions.register_dataframe_accessor("wiremap")
class LocatesAccessor:
    """The first steps on a table of locates, as ``frame.wiremap``.

    Importing `wiremap.notebook` registers it.

    Parameters
    ----------
    frame : DataFrame
        Table ``locates_in``.

    Raises
    ------
    AttributeError
        The frame has no ``feature`` column, so it is no table of locates.
    """

    def __init__(self, frame: pd.DataFrame) -> None:
        if "feature" not in frame.columns:
            raise AttributeError("a table of locates has a 'feature' column")
        self._frame = frame

    def check(self, *, settings: Settings | None = None) -> Checked:
        """Return `wiremap.check_locates` of the frame."""
        from wiremap.steps.checks import check_locates

        return check_locates(self._frame, settings=settings or Settings())

    def place(
        self, references: pd.DataFrame | None = None, *, settings: Settings | None = None
    ) -> Placed:
        """Return `wiremap.place_locates` of the frame."""
        from wiremap.model.tables import REFERENCES_IN
        from wiremap.steps.placement import place_locates

        known = REFERENCES_IN.empty() if references is None else references
        return place_locates(self._frame, known, settings=settings or Settings())
