"""What holds in every hostile case: nothing looks at the network."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.network import nothing_is_asked


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Fail a test whose code reaches for the network, in Python or in a library below it."""
    with nothing_is_asked(monkeypatch):
        yield
