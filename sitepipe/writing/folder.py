"""All or nothing: a run's folder is replaced whole, or what stood there before stays."""

from __future__ import annotations

import contextlib
import ctypes
import errno
import hashlib
import json
import os
import shutil
import signal
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from filelock import FileLock, Timeout

from sitepipe.errors import SettingsError, WritingError

RUN_FILE = "run.json"
MADE_BY = "sitepipe"
_SIDECARS = ("-wal", "-shm", "-journal", ".aux.xml", ".ovr")
_AT_FDCWD = -100
_RENAME_EXCHANGE = 2


@contextlib.contextmanager
def claimed(target: Path, inputs: Sequence[Path] = ()) -> Iterator[Path]:
    """Yield an empty folder that takes the target's place when the block ends without an error.

    The target is looked at and locked before the block starts, so that a run that could not be written
    is refused before it has computed anything. Files in the target that no run wrote are carried over.

    Parameters
    ----------
    target : Path
        Where the results shall stand; its parent must exist.
    inputs : sequence of Path
        Files that are read and must not lie in the target.

    Raises
    ------
    SettingsError
        If an input lies in the target.
    WritingError
        If the target is not an earlier run's folder, another run holds it, or the disk refuses.
        What was there before is untouched and nothing temporary is left.
    """
    place = _resolved(target)
    _refuse_inputs(place, target, inputs)
    _refuse_strangers(place, target)
    fresh: Path | None = None
    with _told_as_writing_errors(target), _locked(place, target):
        _clear_leavings(place)
        try:
            fresh = Path(tempfile.mkdtemp(prefix=f"{temporary_stem(place)}.new-", dir=place.parent))
            fresh.chmod(0o777 & ~_umask())
            yield fresh
            _carry_over(place, fresh)
            _sync(fresh)
            with _undisturbed():
                _swap(fresh, place)
                _sync_folder(place.parent)
        finally:
            if fresh is not None:
                shutil.rmtree(fresh, ignore_errors=True)


def files_in(folder: Path) -> list[str]:
    """Return every file below a folder, as sorted relative names with forward slashes."""
    return sorted(
        (Path(root) / name).relative_to(folder).as_posix() for root, _, names in os.walk(folder) for name in names
    )


def _resolved(target: Path) -> Path:
    try:
        place = target.resolve()
        is_folder, exists = place.is_dir(), os.path.lexists(place)
    except (OSError, RuntimeError, ValueError) as error:
        raise WritingError(f"{target} cannot be a folder for results: {error}. Name another with --out") from error
    if exists and not is_folder:
        raise WritingError(f"{target} is a file, not a folder. Name another with --out")
    if not place.parent.is_dir():
        raise WritingError(f"{target} cannot be made, because its parent folder does not exist. Make that first")
    return place


def _refuse_inputs(place: Path, target: Path, inputs: Sequence[Path]) -> None:
    for path in inputs:
        source = path.resolve()
        if source == place or place in source.parents:
            raise SettingsError(
                f"--out {target} holds {path.name}, which the run reads; it would be replaced. Name another folder"
            )


def _refuse_strangers(place: Path, target: Path) -> None:
    if place.is_dir() and any(place.iterdir()) and _earlier(place) is None:
        raise WritingError(
            f"{target} is not empty and holds no {RUN_FILE} of an earlier run. Name an empty folder with --out"
        )


def _earlier(place: Path) -> dict[str, Any] | None:
    """Return what an earlier run noted about itself, None where no run made this folder."""
    try:
        noted = json.loads((place / RUN_FILE).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return None
    if isinstance(noted, dict) and noted.get("made_by") == MADE_BY and isinstance(noted.get("files"), list):
        return noted
    return None


@contextlib.contextmanager
def _told_as_writing_errors(target: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        if isinstance(error, BrokenPipeError):
            raise
        reason = error.strerror or str(error)
        advice = {
            errno.ENOSPC: "Free some space",
            errno.EDQUOT: "Free some space",
            errno.EFBIG: "Allow larger files, or write elsewhere with --out",
        }.get(error.errno or 0, "Check that the folder may be written to, or name another with --out")
        raise WritingError(
            f"{target} could not be written ({reason}); what was there is untouched. {advice}"
        ) from error


@contextlib.contextmanager
def _locked(place: Path, target: Path) -> Iterator[None]:
    path = place.parent / f"{temporary_stem(place)}.lock"
    lock = FileLock(path)
    try:
        lock.acquire(timeout=0)
    except Timeout as error:
        raise WritingError(f"{target} is being written by another run. Wait for it, or name another folder") from error
    try:
        yield
    finally:
        with contextlib.suppress(OSError):
            path.unlink()
        lock.release()


def temporary_stem(place: Path) -> str:
    """Return the start of every temporary name for a target; short, since its own name may be as long as names go."""
    return f".sitepipe-{hashlib.sha256(os.fsencode(place.name)).hexdigest()[:12]}"


def _clear_leavings(place: Path) -> None:
    """Take away what a killed run left, and put an earlier run back if it was killed between two renames."""
    kept = place.parent / f"{temporary_stem(place)}.earlier"
    if kept.is_dir() and not os.path.lexists(place):
        kept.rename(place)
    for leaving in place.parent.glob(f"{temporary_stem(place)}.*"):
        if leaving.is_dir() and not leaving.is_symlink():
            shutil.rmtree(leaving)


def _carry_over(place: Path, fresh: Path) -> None:
    """Copy what the user put into the earlier run's folder, so that nothing of theirs is lost."""
    noted = _earlier(place) if place.is_dir() else None
    if noted is None:
        return
    ours = {name for name in noted["files"] if isinstance(name, str)}
    ours |= {name + ending for name in ours for ending in _SIDECARS}
    for root, folders, names in os.walk(place):
        links = [name for name in folders if (Path(root) / name).is_symlink()]
        for name in (*names, *links):
            path = Path(root) / name
            relative = path.relative_to(place)
            if relative.as_posix() in ours:
                continue
            copy = fresh / relative
            if os.path.lexists(copy):
                raise WritingError(
                    f"{path.name} in {place.name} is not of an earlier run and would be replaced. Move it"
                )
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(path, copy, follow_symlinks=False)


def _sync(folder: Path) -> None:
    for root, _, names in os.walk(folder):
        for name in names:
            path = Path(root) / name
            if not path.is_symlink():
                with path.open("rb") as file:
                    os.fsync(file.fileno())
        _sync_folder(Path(root))


def _sync_folder(folder: Path) -> None:
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _swap(fresh: Path, place: Path) -> None:
    """Put the fresh folder in place; the earlier one stands until then, and whole afterwards under the fresh name."""
    if not place.exists() or not any(place.iterdir()):
        fresh.replace(place)
        return
    if _exchange(fresh, place):
        return
    kept = place.parent / f"{temporary_stem(place)}.earlier"
    place.rename(kept)
    try:
        fresh.rename(place)
    except BaseException:
        kept.rename(place)
        raise
    shutil.rmtree(kept, ignore_errors=True)


def _exchange(one: Path, other: Path) -> bool:
    """Swap two names in one step, where the system can: no moment without a whole folder in place."""
    try:
        exchange = ctypes.CDLL(None, use_errno=True).renameat2
    except (OSError, AttributeError, TypeError):
        return False
    done: int = exchange(_AT_FDCWD, os.fsencode(one), _AT_FDCWD, os.fsencode(other), _RENAME_EXCHANGE)
    if done == 0:
        return True
    number = ctypes.get_errno()
    if number in {errno.ENOSYS, errno.EINVAL, errno.ENOTSUP}:
        return False
    raise OSError(number, os.strerror(number), str(other))


@contextlib.contextmanager
def _undisturbed() -> Iterator[None]:
    """Hold requests to stop back while the names change; by then the run is done, so they are dropped."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    stops = {signal.SIGINT, signal.SIGTERM, signal.SIGHUP}
    before = signal.pthread_sigmask(signal.SIG_BLOCK, stops)
    try:
        yield
    finally:
        if hasattr(signal, "sigtimedwait"):
            while signal.sigtimedwait(stops - before, 0) is not None:
                pass
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
