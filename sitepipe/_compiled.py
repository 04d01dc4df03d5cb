"""Compiled kernels kept on disk: one that is damaged, or made from other source than there is now, is thrown away.

The compiler keeps a kernel as long as the kernel's own file stays the same. That is not enough: what it calls is
compiled into it, and so are the constants it reads, and a disk can change a byte of machine code. So each process
notes what it leaves in the cache, with the source it came from, and the next one believes only what is noted so.
"""

from __future__ import annotations

import atexit
import contextlib
import hashlib
import json
import os
import re
import tempfile
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

NOTE = "sitepipe-kernels.json"
MARK = b"@kernel"
_IMPORT = re.compile(rb"^from (sitepipe[\w.]*) import (\([^)]*\)|[^\n(]*)", re.MULTILINE)
_PACKAGE = Path(__file__).parent

_sources: dict[Path, dict[str, str]] = {}
"""Folders of compiled kernels that this process uses: file of the package, and the digest of all it is made from."""


def keep_sound(folder: Path, source: Path) -> None:
    """Throw away the compiled kernels of a source file that are not exactly as an earlier process noted them.

    Parameters
    ----------
    folder : Path
        Where the compiler keeps the kernels of this file.
    source : Path
        A file of the package that defines kernels. Looked after once in each process.

    Notes
    -----
    A kernel that is thrown away is compiled again when it is called; nothing else follows. A folder that cannot be
    read or written is left as it is.
    """
    known = _sources.setdefault(folder, {})
    if source.stem in known:
        return
    known[source.stem] = digest_of(source)
    noted = _read_note(folder).get(source.stem, {})
    sums = noted.get("files") if noted.get("source") == known[source.stem] else None
    for kept in _kept(folder, source.stem):
        with contextlib.suppress(OSError):
            if not isinstance(sums, dict) or sums.get(kept.name) != _sum(kept):
                kept.unlink()


@atexit.register
def note_all() -> None:
    """Note every compiled kernel that this process leaves, for the one that comes next."""
    for folder in _sources:
        with contextlib.suppress(OSError, MemoryError):
            _note(folder)


def _note(folder: Path) -> None:
    noted = _read_note(folder)
    found = {
        stem: {"source": source, "files": {kept.name: _sum(kept) for kept in _kept(folder, stem)}}
        for stem, source in sorted(_sources[folder].items())
    }
    if all(noted.get(stem) == told for stem, told in found.items()):
        return
    handle, name = tempfile.mkstemp(prefix=f"{NOTE}.", dir=folder)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            json.dump(noted | found, file, sort_keys=True)
        Path(name).replace(folder / NOTE)
    except OSError:
        Path(name).unlink(missing_ok=True)


def digest_of(source: Path) -> str:
    """Return a digest of a file, of every file whose kernels or constants can be compiled into its own, and of how."""
    found: dict[Path, bytes] = {}
    waiting = [source, _PACKAGE / "_jit.py"]
    while waiting:
        path = waiting.pop()
        if path not in found:
            found[path] = path.read_bytes()
            waiting.extend(_compiled_in(found[path]))
    digest = hashlib.blake2b(digest_size=16)
    for path in sorted(found):
        digest.update(b"%d %s " % (len(found[path]), path.name.encode()))
        digest.update(found[path])
    return digest.hexdigest()


def _compiled_in(text: bytes) -> Iterator[Path]:
    """Yield the files that a source takes kernels, constants or whole modules from."""
    for module, told in _IMPORT.findall(text):
        place = _PACKAGE.joinpath(*module.decode().split(".")[1:])
        names = re.findall(rb"\w+", re.sub(rb"\bas \w+", b"", told))
        for name in names:
            inner = place / f"{name.decode()}.py"
            if inner.is_file():
                yield inner
        own = place.with_suffix(".py")
        if own.is_file() and (any(name.isupper() for name in names) or MARK in own.read_bytes()):
            yield own


def _kept(folder: Path, stem: str) -> list[Path]:
    return sorted(path for path in folder.glob(f"{stem}.*.nb[ci]"))


def _sum(path: Path) -> int:
    return zlib.crc32(path.read_bytes())


def _read_note(folder: Path) -> dict[str, Any]:
    try:
        noted = json.loads((folder / NOTE).read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError):
        return {}
    return {stem: told for stem, told in noted.items() if isinstance(told, dict)} if isinstance(noted, dict) else {}
