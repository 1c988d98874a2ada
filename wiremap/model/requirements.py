"""Requirement profiles: what a receiving agency asks of a record drawing, as data."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field


class Requirement(BaseModel):
    """One thing that is asked for.

    Attributes
    ----------
    id : str
        Short name within the profile.
    says : str
        The requirement in plain words.
    source : str
        A key of the profile's sources.
    clause : str
        Where in the source it stands.
    check : str
        Name of the check that tells whether it is met (`wiremap.steps.requirements.CHECKS`).
    advice : str
        What to do where it is not.
    limits : dict
        What the check is held to.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    id: str
    says: str
    source: str
    clause: str = ""
    check: str
    advice: str
    limits: dict[str, Any] = Field(default_factory=dict)


class RequirementProfile(BaseModel):
    """A named list of requirements with their sources.

    Attributes
    ----------
    name : str
        Name of the rule that it holds.
    title : str
        One line for people.
    sources : dict of str to str
        Public documents, by the keys that the items use.
    items : tuple of Requirement
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    title: str
    sources: dict[str, str]
    items: tuple[Requirement, ...]

    def cite(self, item: Requirement) -> str:
        """Return where an item comes from.

        Parameters
        ----------
        item : Requirement

        Returns
        -------
        str

        Examples
        --------
        >>> one = Requirement(id="a", says="b", source="S", clause="sec. 4", check="c", advice="d")
        >>> profile = RequirementProfile(
        ...     name="n", title="t", sources={"S": "Some Code"}, items=(one,)
        ... )
        >>> profile.cite(one)
        'Some Code, sec. 4'
        """
        return ", ".join(part for part in (self.sources[item.source], item.clause) if part)
