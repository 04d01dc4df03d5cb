"""The day that page and sheets carry: asked for, given by the environment, else today."""

from __future__ import annotations

from datetime import date, datetime

import pytest

from sitepipe.commands.run import day_of_run
from sitepipe.errors import SettingsError


def test_the_day_asked_for_comes_first_then_the_environments_then_today(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SOURCE_DATE_EPOCH", raising=False)
    assert day_of_run(None) == date.today()  # noqa: DTZ011 (the grower's own calendar)
    # 86 400 seconds to the day: 365 days and a second after 1 January 1970 is 1 January 1971 (by hand).
    monkeypatch.setenv("SOURCE_DATE_EPOCH", str(365 * 86_400 + 1))
    assert day_of_run(None) == date(1971, 1, 1)
    assert day_of_run(datetime(2027, 4, 10)) == date(2027, 4, 10)  # noqa: DTZ001 (a day has no zone)


@pytest.mark.parametrize("said", ["soon", "1e9", "9" * 30])
def test_an_environment_that_names_no_day_is_refused_in_one_line(monkeypatch: pytest.MonkeyPatch, said: str) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", said)
    with pytest.raises(SettingsError, match=r"SOURCE_DATE_EPOCH is .* whole seconds since 1970; unset it, or say --on"):
        day_of_run(None)
