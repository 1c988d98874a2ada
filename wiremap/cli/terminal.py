"""Text from field files on a terminal: it is shown, and commands nothing."""

from __future__ import annotations


def printable(text: object) -> str:
    r"""Return a text that stays on one line of a terminal and cannot command it.

    Parameters
    ----------
    text : object
        Anything; what it is as text counts.

    Returns
    -------
    str
        Line ends, escape sequences, signs that turn the direction of writing and halves of
        characters are written out.

    Examples
    --------
    >>> printable("box\x1b[31m 4")
    'box\\x1b[31m 4'
    """
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in str(text))
