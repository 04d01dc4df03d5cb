"""``explain`` knows every layer of the design, and says what the record declares."""

from __future__ import annotations

import json

import pytest

from sitepipe import cli
from sitepipe.answers.layers import declared_layers
from tests.writing.test_results import DESIGN_LAYERS


def test_every_layer_of_the_design_is_declared_and_no_other() -> None:
    assert sorted(declared_layers()) == sorted(DESIGN_LAYERS)


@pytest.mark.parametrize("name", DESIGN_LAYERS)
def test_a_layer_is_explained_with_unit_meaning_and_source(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.outcome(["explain", name]) == 0
    out, err = capsys.readouterr()
    layer = declared_layers()[name]
    assert err == ""
    assert out.splitlines()[0] == f"{layer.title} ({name})"
    for wanted in (f"Unit: {layer.unit}", f"Meaning: {layer.meaning}", f"Source: {layer.source}"):
        assert wanted in out


def test_without_a_name_every_layer_is_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.outcome(["explain"]) == 0
    assert [line.split(":")[0] for line in capsys.readouterr().out.splitlines()] == list(declared_layers())


def test_a_program_reads_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.outcome(["explain", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert list(told) == list(declared_layers())
    assert cli.outcome(["explain", "slope", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == told["slope"]
