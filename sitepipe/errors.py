"""What can go wrong, and the exit code that each cause ends in."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from pathlib import Path


class SitepipeError(Exception):
    """A cause that ends a command, told in one line: the thing, what is needed, what to do."""

    exit_code = 1


class InternalError(SitepipeError):
    """A promise of the program itself was broken: our bug."""

    exit_code = 1


class SettingsError(SitepipeError):
    """A command line or a settings file asks for something that cannot be."""

    exit_code = 2


class InputError(SitepipeError):
    """A file of the site is missing, unreadable, or does not say what it must."""

    exit_code = 3


class WritingError(SitepipeError):
    """The results could not be written; what was there before is untouched."""

    exit_code = 4


class SomeParcelsFailedError(SitepipeError):
    """Of many parcels some failed; the others are done."""

    exit_code = 5


class InterruptedRunError(SitepipeError):
    """The user stopped the run; nothing was replaced."""

    exit_code = 130


def our_bug(error: BaseException) -> InternalError:
    """Return the error of a promise that was broken, with the place in the program where it was."""
    where = error.__traceback__
    while where is not None and where.tb_next is not None:
        where = where.tb_next
    place = f" in {Path(where.tb_frame.f_code.co_filename).name}:{where.tb_lineno}" if where else ""
    return InternalError(
        f"this is our bug, not yours: {type(error).__name__}{place}: {error}. "
        "Please report it; 'sitepipe --debug ...' shows where it arose"
    )


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return the hint of a message: the known word that is most like one, or nothing where none is like it.

    Examples
    --------
    >>> did_you_mean("heigth", ["height", "width"])
    " (did you mean 'height'?)"
    """
    close = difflib.get_close_matches(word.lower(), list(known), n=1, cutoff=0.5)
    return f" (did you mean {close[0]!r}?)" if close else ""
