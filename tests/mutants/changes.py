"""The faults: every small change of one place in a module's syntax tree.

Operators, comparisons and their boundaries, signs, constants, and/or/not, any/all, min/max, arguments in the wrong
order, a value not returned, a statement left out. Annotations, decorators and texts stay as they are.
"""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

_OPERATORS: dict[type[ast.operator], type[ast.operator]] = {
    **{ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Div},
    **{ast.Mod: ast.Mult, ast.Pow: ast.Mult, ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd},
}
_COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
    **{ast.Eq: (ast.NotEq,), ast.NotEq: (ast.Eq,), ast.Is: (ast.IsNot,), ast.IsNot: (ast.Is,)},
    **{ast.In: (ast.NotIn,), ast.NotIn: (ast.In,)},
}
_PAIRS = (("min", "max"), ("any", "all"), ("minimum", "maximum"), ("argmin", "argmax"), ("floor", "ceil"))
_OTHER_NAMES = {one: other for pair in _PAIRS for one, other in (pair, pair[::-1])}
_ANY_ORDER = {*_OTHER_NAMES, "isinstance", "getattr", "cast", "range", "zip", "hypot", "multiply"}
_GROWN = 1.25  # a number that is a quarter larger


@dataclass(frozen=True)
class Change:
    """One fault: `index` is the place in the walk of the module's tree, `variant` which of that place's faults."""

    module: str
    function: str
    line: int
    kind: str
    before: str
    after: str
    index: int
    variant: int

    @property
    def key(self) -> tuple[str, str, str]:
        """What names it when lines have moved: place, text before, text after."""
        return f"{self.module}:{self.function}", self.before, self.after


def changes_of(module: str, path: Path) -> list[Change]:
    """All faults of one source file, each text before and after once a function."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found: dict[tuple[str, str, str], Change] = {}
    for index, (node, field, function) in enumerate(_places(tree)):
        for variant, (kind, new) in enumerate(_variants(node, field)):
            after = ast.unparse(new)
            made = Change(module, function, node.lineno, kind, ast.unparse(node), after, index, variant)  # type: ignore[attr-defined]
            found.setdefault(made.key, made)
    return list(found.values())


def changed_tree(path: Path, change: Change) -> ast.Module:
    """The module's tree with that one fault."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    node, field, _ = list(_places(tree))[change.index]
    _, new = list(_variants(node, field))[change.variant]

    class Put(ast.NodeTransformer):
        def visit(self, at: ast.AST) -> Any:
            return ast.copy_location(new, node) if at is node else self.generic_visit(at)

    changed: ast.Module = ast.fix_missing_locations(Put().visit(tree))
    return changed


def _places(tree: ast.AST, function: str = "", prefix: str = "") -> Iterator[tuple[ast.AST, str, str]]:
    """Every place that may be changed, the field it stands in and its function's qualified name ("" outside any)."""
    for field, value in ast.iter_fields(tree):
        if field in ("annotation", "returns", "decorator_list", "format_spec", "type_params"):
            continue
        for child in value if isinstance(value, list) else [value]:
            if not isinstance(child, ast.AST) or _is_text(child):
                continue
            if isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef):
                name = f"{prefix}{child.name}"
                yield from _places(child, function if isinstance(child, ast.ClassDef) else name, name + ".")
            else:
                yield child, field, function
                yield from _places(child, function, prefix)


def _is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _variants(node: ast.AST, field: str) -> Iterator[tuple[str, ast.AST]]:
    """(kind, new node) of every fault of this one node."""
    yield from _of_operator(node)
    yield from _of_condition(node, field)
    yield from _of_constant(node)
    yield from _of_call(node)
    yield from _of_statement(node)


def _with(node: Any, **fields: Any) -> Any:
    new = copy.copy(node)
    for name, value in fields.items():
        setattr(new, name, value)
    return new


def _wordy(*nodes: ast.expr) -> bool:
    texts = (ast.JoinedStr, ast.Tuple, ast.List)
    return any(isinstance(n, texts) or (isinstance(n, ast.Constant) and isinstance(n.value, str)) for n in nodes)


def _of_operator(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    if isinstance(node, ast.BinOp) and not _wordy(node.left, node.right):
        if type(node.op) in _OPERATORS:
            yield "operator", _with(node, op=_OPERATORS[type(node.op)]())
        if isinstance(node.op, ast.Sub):
            yield "sign", _with(node, left=node.right, right=node.left)
    elif isinstance(node, ast.AugAssign) and not _wordy(node.value) and type(node.op) in _OPERATORS:
        yield "operator", _with(node, op=_OPERATORS[type(node.op)]())
    elif isinstance(node, ast.UnaryOp) and not isinstance(node.op, ast.UAdd):
        yield ("boolean" if isinstance(node.op, ast.Not | ast.Invert) else "sign"), node.operand


def _of_condition(node: ast.AST, field: str) -> Iterator[tuple[str, ast.AST]]:
    if isinstance(node, ast.Compare):
        for place, op in enumerate(node.ops):
            for other in _COMPARISONS[type(op)]:
                yield "comparison", _with(node, ops=[*node.ops[:place], other(), *node.ops[place + 1 :]])
    elif isinstance(node, ast.BoolOp):
        yield "boolean", _with(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And())
        for left_out in range(len(node.values)):
            rest = [value for place, value in enumerate(node.values) if place != left_out]
            yield "condition left out", rest[0] if len(rest) == 1 else _with(node, values=rest)
    elif field in ("test", "ifs") and isinstance(node, ast.Name | ast.Attribute | ast.Call):
        yield "boolean", ast.UnaryOp(ast.Not(), node)


def _of_constant(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    if not isinstance(node, ast.Constant):
        return
    value = node.value
    if isinstance(value, bool):
        yield "constant", ast.Constant(not value)
    elif isinstance(value, int):
        yield "constant", ast.Constant(value + 1)
        yield "constant", ast.Constant(value - 1)
    elif isinstance(value, float):
        yield "constant", ast.Constant(value * _GROWN if value else 1.0)


def _of_call(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    if not isinstance(node, ast.Call):
        return
    name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
    if name in _OTHER_NAMES:
        other = _OTHER_NAMES[name]
        func = _with(node.func, **({"id": other} if isinstance(node.func, ast.Name) else {"attr": other}))
        yield "min/max, any/all", _with(node, func=func)
    if name in ("abs", "sqrt") and len(node.args) == 1:
        yield "call left out", node.args[0]
    swappable = len(node.args) >= 2 and not any(isinstance(arg, ast.Starred) for arg in node.args[:2])
    if swappable and name not in _ANY_ORDER and ast.dump(node.args[0]) != ast.dump(node.args[1]):
        yield "arguments", _with(node, args=[node.args[1], node.args[0], *node.args[2:]])


def _of_statement(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    nothing = isinstance(node, ast.Return) and ast.dump(node.value or ast.Constant(None)) == ast.dump(
        ast.Constant(None)
    )
    if isinstance(node, ast.Return) and not nothing:
        yield "return", _with(node, value=ast.Constant(None))
    kept = isinstance(node, ast.Assign) and any(
        not isinstance(to, ast.Subscript | ast.Attribute) for to in node.targets
    )
    if isinstance(node, ast.Expr | ast.AugAssign | ast.Raise | ast.Continue | ast.Break | ast.Assign) and not kept:
        yield "statement left out", ast.Pass()
