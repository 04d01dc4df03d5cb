"""Whether anything looks at the network: in Python, or in a library below it."""

from __future__ import annotations

import atexit
import os
import select
import socket
import sys
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

_listener = socket.socket()
_listener.bind(("127.0.0.1", 0))
_listener.listen(8)
atexit.register(_listener.close)
_PROXY = f"http://127.0.0.1:{_listener.getsockname()[1]}"
"""Libraries below Python ask the network through here, should they ask at all."""

_watched: list[list[str]] = []


def _hook(event: str, arguments: tuple[object, ...]) -> None:
    if not _watched:
        return
    if event == "socket.bind" and arguments[1:] == (("::1", 0),):
        return  # A library of folium's asks at its import whether there is IPv6; it neither listens nor sends.
    named = {"socket.connect", "socket.bind", "socket.sendto", "socket.getaddrinfo", "socket.gethostbyname"}
    if event in named and not (arguments and getattr(arguments[0], "family", None) == socket.AF_UNIX):
        _watched[-1].append(f"{event} {arguments[1:]!r}")


sys.addaudithook(_hook)


@contextmanager
def nothing_is_asked(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Fail where what is done meanwhile reaches for the network."""
    for name in ("http_proxy", "https_proxy", "HTTP_PROXY", "HTTPS_PROXY", "ALL_PROXY", "GDAL_HTTP_PROXY"):
        monkeypatch.setenv(name, _PROXY)
    seen: list[str] = []
    _watched.append(seen)
    yield
    _watched.pop()
    reached, _, _ = select.select([_listener], [], [], 0.0)
    if reached:
        _listener.accept()[0].close()
    assert not seen, seen
    assert not reached, f"process {os.getpid()} asked for the network through its proxy"
