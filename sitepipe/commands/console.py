"""What is said to the user: results to stdout, progress and messages to stderr."""

from __future__ import annotations

import contextlib
import errno
import io
import json
import os
import shutil
import sys
import textwrap
import unicodedata
from collections.abc import Callable, Iterator
from typing import TextIO

WIDEST = 100


def prepare_streams() -> None:
    """Let no sign that a terminal cannot show end a run, and no library print into the answer."""
    if isinstance(sys.stdout, io.TextIOWrapper) and sys.stdout.fileno() == 1:
        # The solver of plans prints whatever it is told. Once, before any thread: what writes by number writes nowhere.
        sys.stdout.flush()
        sys.stdout = vars(sys)["__stdout__"] = os.fdopen(os.dup(1), "w", encoding=sys.stdout.encoding)
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.close(nowhere)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")


def say(text: str = "", heading: bool = False) -> None:
    """Print one paragraph of the answer: wrapped at a terminal, one line elsewhere."""
    _print(text, sys.stdout, heading)


def say_bytes(content: bytes) -> None:
    """Print bytes as they stand in a file, whatever the locale."""
    if sys.stdout is None:
        return
    sys.stdout.flush()
    if hasattr(sys.stdout, "buffer"):
        sys.stdout.buffer.write(content)
        sys.stdout.buffer.flush()
    else:
        sys.stdout.write(content.decode("utf-8"))


def say_data(told: object) -> None:
    """Print what a program is to read, as JSON."""
    say_bytes(f"{json.dumps(told, indent=2, ensure_ascii=False)}\n".encode("utf-8", errors="replace"))


def tell(text: str) -> None:
    """Print one message to stderr, on one line that a search finds: with plain blanks."""
    with contextlib.suppress(OSError):
        _print(text.replace("\u00a0", " "), sys.stderr, False)


def flush() -> None:
    """Push out what was said."""
    if sys.stdout is not None:
        sys.stdout.flush()


def forget_stdout() -> None:
    """Point stdout at nothing, so that the interpreter's own last flush is quiet."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def is_stdout_full(error: OSError) -> bool:
    """Tell whether an error came from printing rather than from a file."""
    return error.filename is None and error.errno in {errno.ENOSPC, errno.EFBIG, errno.EIO, errno.EDQUOT}


@contextlib.contextmanager
def progress() -> Iterator[Callable[[str], None]]:
    """Yield a function that says which stage has begun: a moving line at a terminal, plain lines elsewhere."""
    with _moving_line(tell) as say_stage:
        yield say_stage


@contextlib.contextmanager
def quiet_progress() -> Iterator[Callable[[str], None]]:
    """Yield the same where many stages follow one another: nothing is said where there is no terminal."""
    with _moving_line(lambda _: None) as say_stage:
        yield say_stage


@contextlib.contextmanager
def _moving_line(otherwise: Callable[[str], None]) -> Iterator[Callable[[str], None]]:
    if sys.stderr is None or not _is_terminal(sys.stderr) or os.environ.get("TERM") == "dumb":
        yield otherwise
        return
    from rich.console import Console

    with Console(stderr=True, highlight=False, markup=False).status("Starting", spinner="line") as status:
        yield lambda text: status.update(_harmless(text))


def _print(text: str, stream: TextIO | None, heading: bool) -> None:
    if stream is None:
        return
    text = _harmless(text)
    if _is_terminal(stream):
        columns = min(shutil.get_terminal_size((80, 24)).columns, WIDEST)
        indent = "   " if text[:1].isdigit() or text.startswith("- ") else ""
        text = textwrap.fill(text, max(columns, 30), subsequent_indent=indent, break_long_words=False)
        if heading and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb":
            text = f"\x1b[1m{text}\x1b[0m"
    stream.write(f"{text}\n")


def _harmless(text: str) -> str:
    """Take out what would move the cursor or turn the direction of reading: names come from files."""
    return "".join(sign for sign in text.replace("\n", " ") if sign.isprintable() or unicodedata.category(sign) == "Zs")


def _is_terminal(stream: TextIO) -> bool:
    try:
        return stream.isatty()
    except ValueError:
        return False
