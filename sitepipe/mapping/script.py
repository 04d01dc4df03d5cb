"""Kernels as JavaScript, written from the source of the compiled ones: one source, and the same numbers on the page.

What cannot be said alike in both languages is refused by name. Whole numbers of 64 bits become doubles, exact below
2^53: who hands numbers on keeps within that.
"""

from __future__ import annotations

import ast
import inspect
import sys
from collections.abc import Callable, Iterable
from types import ModuleType
from typing import Any

from sitepipe.errors import InternalError

ARRAYS = {
    "int32": "Int32Array",
    "int64": "Float64Array",
    "float64": "Float64Array",
    "bool_": "Uint8Array",
    "uint8": "Uint8Array",
}
"""What holds the numbers of each type. Reading and writing them rounds nothing that the compiled kernel keeps."""
EXACT = {"sqrt": "Math.sqrt", "floor": "Math.floor", "ceil": "Math.ceil", "isnan": "Number.isNaN"}
"""What IEEE 754 rounds in one way only; hypot, sin, exp and their like are each library's own."""
BINARY = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}
COMPARED = {ast.Eq: "===", ast.NotEq: "!==", ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">="}
HELPERS = """\
const shaped = (array, shape) => Object.assign(array, { shape });
const copied = (array) => (array.shape ? shaped(array.slice(), array.shape) : array.slice());
const counting = (size) => Float64Array.from({ length: size }, (_, k) => k);
const remainder = (a, b) => ((a % b) + b) % b;"""


def written(kernels: Iterable[Callable[..., Any]]) -> str:
    """Write kernels, and all that they call, as functions of the same names.

    Arrays are typed arrays with a ``shape`` where they have rows and columns; more than one result comes as a list.

    Raises
    ------
    InternalError
        If a kernel says something that JavaScript would not do exactly alike.
    """
    done: dict[str, str] = {}
    waiting = list(kernels)
    while waiting:
        function = inspect.unwrap(getattr(waiting.pop(), "py_func"))  # noqa: B009 (the type does not tell of it)
        if function.__name__ not in done:
            writer = _Writer(function)
            done[function.__name__] = writer.written()
            waiting += writer.called
    return "\n".join([HELPERS, *(done[name] for name in sorted(done))])


class _Writer:
    """Writes one kernel."""

    def __init__(self, function: Callable[..., Any]) -> None:
        self.module: ModuleType = sys.modules[function.__module__]
        source = inspect.getsource(self.module)
        self.node = next(
            one
            for one in ast.walk(ast.parse(source))
            if isinstance(one, ast.FunctionDef) and one.name == function.__name__
        )
        stored = [n.id for n in ast.walk(self.node) if isinstance(n, ast.Name) and isinstance(n.ctx, ast.Store)]
        self.given = [argument.arg for argument in self.node.args.args]
        self.own = sorted({*stored} - {*self.given})
        self.tables = {
            n.value.id
            for n in ast.walk(self.node)
            if isinstance(n, ast.Subscript) and isinstance(n.value, ast.Name) and isinstance(n.slice, ast.Tuple)
        }
        self.called: list[Callable[..., Any]] = []
        self.lines: list[str] = []
        self.depth = 1
        self.loops = 0

    def refused(self, node: ast.AST) -> InternalError:
        """Return the error that names kernel, line and what cannot be written."""
        where = f"{self.module.__name__}.{self.node.name}, line {getattr(node, 'lineno', '?')}"
        return InternalError(f"{where}: {ast.unparse(node)!r} is not known to be the same in every language")

    def put(self, text: str) -> None:
        """Write a line."""
        self.lines.append("  " * self.depth + text)

    def written(self) -> str:
        """Write the whole function."""
        widths = [f"{name}$c" for name in sorted(self.tables)]
        if self.own or widths:
            self.put(f"let {', '.join([*self.own, *widths])};")
        for name in sorted(self.tables & {*self.given}):
            self.put(f"{name}$c = {name}.shape[1];")
        for statement in self.node.body[1 if ast.get_docstring(self.node) else 0 :]:
            self.statement(statement)
        return f"function {self.node.name}({', '.join(self.given)}) {{\n" + "\n".join(self.lines) + "\n}"

    def block(self, body: list[ast.stmt]) -> None:
        """Write statements one step further in."""
        self.depth += 1
        for statement in body:
            self.statement(statement)
        self.depth -= 1

    def statement(self, node: ast.stmt) -> None:
        """Write one statement."""
        match node:
            case ast.Assign(targets=[target], value=value):
                self.assign(target, value)
            case ast.AugAssign(target=target, op=op, value=value) if type(op) in BINARY:
                self.put(f"{self.value(target)} {BINARY[type(op)]}= {self.value(value)};")
            case ast.If():
                self.condition(node)
            case ast.While(test=test, orelse=[], body=body):
                self.put(f"while ({self.value(test)}) {{")
                self.block(body)
                self.put("}")
            case ast.For(target=ast.Name(id=name), orelse=[]):
                self.loop(name, node)
            case ast.Return(value=None):
                self.put("return;")
            case ast.Return(value=ast.Tuple(elts=several)):
                self.put(f"return [{self.listed(several)}];")
            case ast.Return(value=ast.expr() as value):
                self.put(f"return {self.value(value)};")
            case ast.Expr(value=ast.Call() as call):
                self.put(f"{self.value(call)};")
            case ast.Break() | ast.Continue():
                self.put(f"{ast.unparse(node)};")
            case _:
                raise self.refused(node)

    def condition(self, node: ast.If) -> None:
        """Write a condition with all its alternatives."""
        self.put(f"if ({self.value(node.test)}) {{")
        self.block(node.body)
        while len(node.orelse) == 1 and isinstance(node.orelse[0], ast.If):
            node = node.orelse[0]
            self.put(f"}} else if ({self.value(node.test)}) {{")
            self.block(node.body)
        if node.orelse:
            self.put("} else {")
            self.block(node.orelse)
        self.put("}")

    def loop(self, name: str, node: ast.For) -> None:
        """Write a loop with a counter of its own: after it, and within, the name holds what it holds in Python."""
        self.loops += 1
        k = f"k{self.loops}$"
        match node.iter:
            case ast.Call(func=ast.Name(id="range"), args=[end]):
                head, each = f"let {k} = 0, e{k} = {self.value(end)}; {k} < e{k}; {k} += 1", k
            case ast.Call(func=ast.Name(id="range"), args=[start, end]):
                head = f"let {k} = {self.value(start)}, e{k} = {self.value(end)}; {k} < e{k}; {k} += 1"
                each = k
            case ast.Call(func=ast.Name(id="range"), args=[start, end, ast.UnaryOp(op=ast.USub()) as step]):
                head = f"let {k} = {self.value(start)}, e{k} = {self.value(end)}; {k} > e{k}; {k} += {self.value(step)}"
                each = k
            case ast.Call(func=ast.Name(id="range"), args=[start, end, ast.Name() as step]):
                head = f"let {k} = {self.value(start)}, e{k} = {self.value(end)}; {k} < e{k}; {k} += {self.value(step)}"
                each = k
            case ast.Tuple(elts=several):
                head, each = f"const {k} of [{self.listed(several)}]", k
            case ast.Name(id=walked) | ast.Call(func=ast.Attribute(value=ast.Name(id=walked), attr="ravel")):
                head, each = f"let {k} = 0; {k} < {walked}.length; {k} += 1", f"{walked}[{k}]"
            case _:
                raise self.refused(node.iter)
        self.put(f"for ({head}) {{")
        self.depth += 1
        self.put(f"{name} = {each};")
        self.depth -= 1
        self.block(node.body)
        self.put("}")

    def assign(self, target: ast.expr, value: ast.expr) -> None:
        """Write an assignment; several at once are worked out before any of them is made."""
        match target, value:
            case ast.Tuple(elts=[*targets]), ast.Tuple(elts=[*values]) if len(targets) == len(values):
                told = {n.id for one in values[1:] for n in ast.walk(one) if isinstance(n, ast.Name)}
                if told & {one.id for one in targets if isinstance(one, ast.Name)}:
                    raise self.refused(target)
                for one, other in zip(targets, values, strict=True):
                    self.assign(one, other)
            case ast.Tuple(elts=targets), _:
                self.put(f"[{self.listed(targets)}] = {self.value(value)};")
                for one in targets:
                    self.note_width(one)
            case _:
                self.put(f"{self.value(target)} = {self.value(value)};")
                self.note_width(target)

    def note_width(self, target: ast.expr) -> None:
        """Keep the width of a table beside it, so that its cells are found without asking for the shape."""
        if isinstance(target, ast.Name) and target.id in self.tables:
            self.put(f"{target.id}$c = {target.id}.shape[1];")

    def listed(self, several: list[ast.expr]) -> str:
        """Write values with commas between them."""
        return ", ".join(self.value(one) for one in several)

    def value(self, node: ast.expr) -> str:
        """Write one expression."""
        match node:
            case ast.Constant(value=bool() as truth):
                return "true" if truth else "false"
            case ast.Constant(value=int() | float()):
                return repr(node.value)
            case ast.Name(id=name):
                return self.named(node, name)
            case ast.UnaryOp(op=ast.USub() | ast.Not() as op, operand=operand):
                sign = "-" if isinstance(op, ast.USub) else "!"
                return f"({sign}{self.value(operand)})"
            case ast.BoolOp(op=op, values=values):
                return "(" + (" && " if isinstance(op, ast.And) else " || ").join(map(self.value, values)) + ")"
            case ast.IfExp(test=test, body=body, orelse=other):
                return f"({self.value(test)} ? {self.value(body)} : {self.value(other)})"
            case ast.BinOp():
                return self.reckoned(node)
            case ast.Compare():
                return self.compared(node)
            case ast.Attribute() | ast.Subscript():
                return self.looked_up(node)
            case ast.Call():
                return self.call(node)
        raise self.refused(node)

    def reckoned(self, node: ast.BinOp) -> str:
        """Write a sum, a product or a quotient."""
        left, right = self.value(node.left), self.value(node.right)
        match node.op:
            case ast.FloorDiv():
                return f"Math.floor({left} / {right})"
            case ast.Mod():
                return f"remainder({left}, {right})"
            case op if type(op) in BINARY:
                return f"({left} {BINARY[type(op)]} {right})"
        raise self.refused(node)

    def looked_up(self, node: ast.Attribute | ast.Subscript) -> str:
        """Write what is read of an array: its size, its shape, a cell, a part."""
        match node:
            case ast.Attribute(value=ast.Name(id="np"), attr="inf"):
                return "Infinity"
            case ast.Attribute(value=ast.Name(id=name), attr="size"):
                return f"{name}.length"
            case ast.Attribute(value=ast.Name(id=name), attr="shape"):
                return f"{name}.shape"
            case ast.Subscript(value=ast.Attribute(attr="shape") as shape, slice=ast.Constant(value=int() as side)):
                return f"{self.value(shape)}[{side}]"
            case ast.Subscript(value=ast.Name(id=name), slice=ast.Tuple(elts=[row, column])):
                return f"{name}[{self.value(row)} * {name}$c + {self.value(column)}]"
            case ast.Subscript(value=ast.Name(id=name), slice=ast.Slice(lower=low, upper=high, step=None)):
                return self.part(name, low, high)
            case ast.Subscript(value=ast.Name(id=name), slice=index):
                return f"{name}[{self.value(index)}]"
        raise self.refused(node)

    def named(self, node: ast.AST, name: str) -> str:
        """Write a name: one of the kernel's own, or a number of its module."""
        if name in self.given or name in self.own:
            return name
        known = getattr(self.module, name, None)
        if isinstance(known, int | float) and not isinstance(known, bool):
            return repr(known) if known >= 0 else f"({known!r})"
        raise self.refused(node)

    def compared(self, node: ast.Compare) -> str:
        """Write comparisons; a chain asks for each of its sides to be plain, since it is written twice."""
        sides = [node.left, *node.comparators]
        if isinstance(node.ops[0], ast.In) and isinstance(sides[1], ast.Tuple):
            return "(" + " || ".join(f"{self.value(sides[0])} === {self.value(one)}" for one in sides[1].elts) + ")"
        if any(type(op) not in COMPARED for op in node.ops):
            raise self.refused(node)
        pairs = zip(sides[:-1], node.ops, sides[1:], strict=True)
        said = [f"{self.value(one)} {COMPARED[type(op)]} {self.value(other)}" for one, op, other in pairs]
        return f"({' && '.join(said)})"

    def part(self, name: str, low: ast.expr | None, high: ast.expr | None) -> str:
        """Write a part of a row of numbers, or the first rows of a table; both are views."""
        first, last = (self.value(one) if one is not None else "" for one in (low, high))
        if name not in self.tables:
            return f"{name}.subarray({first or '0'}{', ' + last if last else ''})"
        if first or not last:
            raise self.refused(ast.Name(id=name))
        return f"shaped({name}.subarray(0, {last} * {name}$c), [{last}, {name}$c])"

    def call(self, node: ast.Call) -> str:
        """Write a call: of another kernel, of what makes arrays, or of what rounds alike everywhere."""
        match node.func:
            case ast.Name(id="min" | "max" | "abs" as name):
                return f"Math.{name}({self.listed(node.args)})"
            case ast.Name(id="int"):
                return f"Math.trunc({self.value(node.args[0])})"
            case ast.Name(id="float") | ast.Attribute(value=ast.Name(id="np"), attr="int64" | "float64"):
                return self.value(node.args[0])
            case ast.Name(id="bool"):
                return f"Boolean({self.value(node.args[0])})"
            case ast.Name(id=name) if hasattr(getattr(self.module, name, None), "py_func"):
                self.called.append(getattr(self.module, name))
                return f"{name}({self.listed(node.args)})"
            case ast.Attribute(value=ast.Name(id="np"), attr="int32"):
                return f"Math.trunc({self.value(node.args[0])})"
            case ast.Attribute(value=ast.Name(id="np"), attr=name) if name in EXACT:
                return f"{EXACT[name]}({self.listed(node.args)})"
            case ast.Attribute(value=ast.Name(id="np"), attr="empty" | "zeros" | "full" as made):
                return self.array(made, node)
            case ast.Attribute(value=ast.Name(id="np"), attr="arange"):
                return f"counting({self.value(node.args[0])})"
            case ast.Attribute(value=ast.Name(id="np"), attr="array") if isinstance(node.args[0], ast.List):
                return f"Float64Array.of({self.listed(node.args[0].elts)})"
            case ast.Attribute(value=held, attr="ravel"):
                return self.value(held)
            case ast.Attribute(value=held, attr="copy"):
                return f"copied({self.value(held)})"
            case ast.Attribute(value=held, attr="reshape"):
                sides = node.args
                shape = self.value(sides[0]) if len(sides) == 1 else f"[{self.listed(sides)}]"
                return f"shaped({self.value(held)}, {shape})"
        raise self.refused(node)

    def array(self, made: str, node: ast.Call) -> str:
        """Write a new array, all zeros or all of one number."""
        kinds = [word.value.attr for word in node.keywords if isinstance(word.value, ast.Attribute)]
        kind = kinds[0] if kinds else "float64"
        if kind not in ARRAYS:
            raise self.refused(node)
        fill = f".fill({self.value(node.args[1])})" if made == "full" else ""
        match node.args[0]:
            case ast.Tuple(elts=[rows, columns]):
                sides = [self.value(rows), self.value(columns)]
                return f"shaped(new {ARRAYS[kind]}({sides[0]} * {sides[1]}){fill}, [{', '.join(sides)}])"
            case size:
                return f"new {ARRAYS[kind]}({self.value(size)}){fill}"
