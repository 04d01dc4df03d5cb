"""Mutants: a source file with one comparison, sign, number or condition changed."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass

_COMPARISONS: dict[type[ast.cmpop], type[ast.cmpop]] = {
    ast.Lt: ast.LtE,
    ast.LtE: ast.Lt,
    ast.Gt: ast.GtE,
    ast.GtE: ast.Gt,
    ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq,
}
_OPERATIONS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
}


@dataclass(frozen=True, slots=True)
class Mutant:
    """One changed source: the line, what was changed, and the whole text."""

    line: int
    change: str
    text: str


def mutants_of(source: str) -> Iterator[Mutant]:
    """Yield every mutant of a source, in the order of its lines; docstrings and annotations are left alone."""
    tree = ast.parse(source)
    count = sum(1 for _ in _places(tree))
    for number in range(count):
        changed = ast.parse(source)
        place = next(node for k, node in enumerate(_places(changed)) if k == number)
        line, before, where = place.lineno, ast.unparse(place), _where(changed, place)
        after = _mutate(place)
        yield Mutant(line, f"{before}  ->  {after}{where}", ast.unparse(ast.fix_missing_locations(changed)))


def _where(tree: ast.Module, place: ast.expr) -> str:
    """Name the statement of a bare number, which alone says nothing; its first line is enough."""
    if not isinstance(place, ast.Constant):
        return ""
    innermost = [node for node in ast.walk(tree) if isinstance(node, ast.stmt) and place in ast.walk(node)][-1]
    return f"  in  {ast.unparse(innermost).splitlines()[0]}"


def _places(tree: ast.Module) -> Iterator[ast.expr]:
    for function in (node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)):
        for statement in function.body:
            for node in ast.walk(statement):
                if isinstance(node, ast.expr) and _can_change(node):
                    yield node


def _can_change(node: ast.expr) -> bool:
    if isinstance(node, ast.Compare):
        return type(node.ops[0]) in _COMPARISONS
    if isinstance(node, ast.BinOp):
        return type(node.op) in _OPERATIONS and not _is_text(node)
    if isinstance(node, ast.BoolOp):
        return True
    return isinstance(node, ast.Constant) and isinstance(node.value, int | float) and not isinstance(node.value, bool)


def _is_text(node: ast.BinOp) -> bool:
    return any(isinstance(side, ast.Constant) and isinstance(side.value, str) for side in (node.left, node.right))


def _mutate(node: ast.expr) -> str:
    if isinstance(node, ast.Compare):
        node.ops[0] = _COMPARISONS[type(node.ops[0])]()
    elif isinstance(node, ast.BinOp):
        node.op = _OPERATIONS[type(node.op)]()
    elif isinstance(node, ast.BoolOp):
        node.op = ast.Or() if isinstance(node.op, ast.And) else ast.And()
    elif isinstance(node, ast.Constant) and isinstance(node.value, int | float):
        node.value = node.value + 1
    return ast.unparse(node)
