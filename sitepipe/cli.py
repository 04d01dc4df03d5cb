"""The commands; the only place that catches errors and prints them."""

from __future__ import annotations

import contextlib
import os
import signal
import sys
from collections.abc import Iterator, Sequence
from typing import Annotated

import typer

from sitepipe import __version__
from sitepipe.commands import check, console, explain, keep, new, region, run, sketch, today, verify
from sitepipe.errors import InputError, InterruptedRunError, SettingsError, SitepipeError, WritingError, our_bug

# Matrices are small here: more threads are slower, change the last digits, and wait for ever where memory is bounded.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

app = typer.Typer(
    name="sitepipe",
    help="From heights and one hand-drawn layer to a map of water, sun and what to build on wet ground.",
    epilog="Results go to stdout, progress and messages to stderr. Exit codes: 0 done, 1 our bug, 2 usage or settings, "
    "3 bad input, 4 cannot write, 5 some parcels failed, 130 interrupted.",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"], "max_content_width": 100},
)
app.command("new", short_help="Make a site folder with a commented site.toml.")(new.new)
app.command("sketch", short_help="Write a page on which to draw the parcel and what stands on it.")(sketch.sketch)
app.command("run", short_help="Answer it all: water, sun, what to build; write the map.")(run.run)
app.command("region", short_help="Answer for many parcels over one set of heights.")(region.region)
app.command("today", short_help="Say which jobs are ready on a day, for the crew that comes.")(today.today)
app.command("keep", short_help="Keep proposed works where they are, with their numbers.")(keep.keep)
app.command("check", short_help="Say what was understood, what it allows, what to measure next.")(check.check)
app.command("explain", short_help="Say what a map layer is and how to read it.")(explain.explain)
app.command("verify", short_help="Work the drainage out again through independent libraries.")(verify.verify)

# Typer keeps the class of its usage errors to itself; it is the parent of the one that it does export.
_UsageError: type[Exception] = typer.BadParameter.__bases__[0]
_INTERRUPTED = InterruptedRunError("stopped; nothing was replaced, and what was begun is cleared away")
_NO_MEMORY = "this machine has too little memory for it. Set a larger [ground] cell in site.toml, or a smaller margin"
_NO_SPACE = "writing to standard output failed: {reason}. Free some space, or send the output elsewhere"


def _say_version(is_asked: bool) -> None:
    if is_asked:
        console.say(f"sitepipe {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[  # noqa: ARG001 (answered by its callback)
        bool, typer.Option("--version", callback=_say_version, is_eager=True, help="Say the version and stop.")
    ] = False,
    debug: Annotated[bool, typer.Option("--debug", help="Show where in the program an error arose.")] = False,
) -> None:
    if debug:
        os.environ["SITEPIPE_DEBUG"] = "1"


def main() -> None:
    """Run the command line and leave with its exit code."""
    arguments = sys.argv[1:] or ["--help"]
    console.prepare_streams()
    with stopped_by_signals():
        code = outcome(arguments)
    sys.exit(_flushed(code))


def outcome(arguments: Sequence[str]) -> int:
    """Run a command line and return its exit code."""
    try:
        returned = app(args=list(arguments), prog_name="sitepipe", standalone_mode=False)
        console.flush()
    except (KeyboardInterrupt, typer.Abort):
        return _told(_INTERRUPTED)
    except SystemExit as left:
        # Typer ends the program itself when a reader has gone away.
        return 0 if isinstance(left.__context__, BrokenPipeError) else int(left.code or 0)
    except SitepipeError as error:
        return _told(error)
    except _UsageError as error:
        return _told(SettingsError(_usage(error)), error)
    except BrokenPipeError:
        return 0  # The reader has seen enough, as in ``sitepipe check site | head``.
    except MemoryError as error:
        return _told(InputError(_NO_MEMORY), error)
    except OSError as error:
        if console.is_stdout_full(error):
            return _told(WritingError(_NO_SPACE.format(reason=error.strerror)), error)
        return _told(our_bug(error), error)
    except Exception as error:  # noqa: BLE001 (whatever it is, the user gets one line and no traceback)
        return _told(our_bug(error), error)
    if returned == _INTERRUPTED.exit_code:
        return _told(_INTERRUPTED)
    return returned if isinstance(returned, int) else 0


def _told(error: SitepipeError, cause: BaseException | None = None) -> int:
    console.tell(f"sitepipe: {error}")
    if os.environ.get("SITEPIPE_DEBUG"):
        import traceback

        traceback.print_exception(cause or error)
    return error.exit_code


def _usage(error: Exception) -> str:
    context = getattr(error, "ctx", None)
    command = getattr(context, "command_path", "sitepipe")
    told: str = error.format_message() if hasattr(error, "format_message") else str(error)
    return f"{told.rstrip('.')}. See '{command} --help'"


@contextlib.contextmanager
def stopped_by_signals() -> Iterator[None]:
    """Let a polite request to end clear up as Ctrl-C does; an ignored signal stays ignored."""

    def stop(*_: object) -> None:
        for number in numbers:
            signal.signal(number, signal.SIG_IGN)
        raise KeyboardInterrupt

    numbers = [signal.SIGINT, signal.SIGTERM, *([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])]
    numbers = [number for number in numbers if signal.getsignal(number) is not signal.SIG_IGN]
    for number in numbers:
        signal.signal(number, stop)
    yield


def _flushed(code: int) -> int:
    """Flush what is left to say; a reader that is gone must not cost a traceback at the very end."""
    try:
        console.flush()
    except BrokenPipeError:
        console.forget_stdout()
    except OSError as error:
        console.forget_stdout()
        return code or _told(WritingError(_NO_SPACE.format(reason=error.strerror)))
    return code


if __name__ == "__main__":
    main()
