"""The breaker itself."""

from __future__ import annotations

from tests.mutation.mutants import mutants_of

SOURCE = '''
def middle(low: float, high: float) -> float:
    """Return what lies between 0 and 1."""
    if low > high and low != 0:
        return 0.0
    return (low + high) / 2.0
'''


def test_each_mutant_changes_one_thing_and_still_parses() -> None:
    found = list(mutants_of(SOURCE))
    changes = {mutant.change for mutant in found}
    assert "low > high  ->  low >= high" in changes
    assert "low + high  ->  low - high" in changes
    assert "2.0  ->  3.0  in  return (low + high) / 2.0" in changes
    assert "0  ->  1  in  if low > high and low != 0:" in changes
    assert len({mutant.text for mutant in found}) == len(found) == 8
    assert all("Return what lies between 0 and 1." in mutant.text for mutant in found)
    for mutant in found:
        compile(mutant.text, "mutant", "exec")
