"""Read damaged copies of one seed in a process that may crash, hang or run out of memory without harm to the tests.

    python -m tests.fuzz.worker FOLDER FILE FIRST LAST

Says the number of each case before it is tried and ``ok`` after it, so that whoever started it knows which was last.
"""

from __future__ import annotations

import resource
import signal
import sys
import traceback
import warnings
from pathlib import Path

import numpy as np

from tests.fuzz.damage import damaged

LONGEST_CASE = 20
"""A case that takes longer hangs, and the process is cut. [s]"""
MOST_MEMORY = 2**30
"""What may be added to the address space, and what may be resident. [B]"""


def main(folder: Path, name: str, first: int, last: int) -> None:
    """Try the cases ``first`` to ``last`` of a seed."""
    import sitepipe.reading.hardening  # noqa: F401 (before any driver is loaded)

    warnings.simplefilter("error")
    whole = (folder / name).read_bytes()
    _try(folder, name)
    _bound_memory()
    for number in range(first, last):
        print(number, end=" ", flush=True)
        (folder / name).write_bytes(damaged(whole, name, number))
        signal.alarm(LONGEST_CASE)
        print(_try(folder, name), flush=True)
        signal.alarm(0)
    print("peak", _peak(), flush=True)


def _bound_memory() -> None:
    pages = int(Path("/proc/self/statm").read_text(encoding="utf-8").split()[0])
    bound = pages * resource.getpagesize() + MOST_MEMORY
    resource.setrlimit(resource.RLIMIT_AS, (bound, bound))


def _peak() -> int:
    # What getrusage tells includes the parent's size at the fork.
    (line,) = [said for said in Path("/proc/self/status").read_text().splitlines() if said.startswith("VmHWM")]
    return int(line.split()[1]) * 1024


def _try(folder: Path, name: str) -> str:
    """Return ``ok``, or what is wrong about how the program took the file."""
    from sitepipe.errors import InputError, SettingsError

    try:
        found = _read(folder, name)
    except (InputError, SettingsError) as error:
        said = str(error)
        if "\n" in said or not said.isprintable() or len(said) > 600:
            return f"is told badly: {said!r}"
        return "ok"
    except MemoryError:
        return "takes more than 1 GiB"
    except Exception:  # noqa: BLE001 (whatever else comes out is what we look for)
        return "raises " + " | ".join(traceback.format_exc().strip().splitlines()[-5:])
    return found


def _read(folder: Path, name: str) -> str:
    from sitepipe.planting.palette import read_palette
    from sitepipe.reading.site import read_site
    from sitepipe.settings import read_settings

    if name == "palette.csv":
        return "ok" if read_palette(folder / name) else "has no plants"
    site = read_site(folder, read_settings(folder / "site.toml"))
    sound = np.isfinite(site.elevation).any() and not np.isinf(site.elevation).any() and site.parcel.is_valid
    return "ok" if sound else "is read as no ground"


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4]))
