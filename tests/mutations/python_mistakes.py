"""Small mistakes in a Python module, one at a time, found by walking its tree."""

from __future__ import annotations

import ast
from dataclasses import dataclass, field

from bedside.clinical.limits import LIMITS
from bedside.clinical.wording import KINDS
from tests.mutations.letters import forgotten
from tests.mutations.mistake import Mistake, made, once_each

COMPARISONS: dict[type[ast.cmpop], tuple[type[ast.cmpop], ...]] = {
    ast.Lt: (ast.LtE, ast.Gt),
    ast.LtE: (ast.Lt, ast.GtE),
    ast.Gt: (ast.GtE, ast.Lt),
    ast.GtE: (ast.Gt, ast.LtE),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
}
SUMS: dict[type[ast.operator], type[ast.operator]] = {
    ast.Add: ast.Sub,
    ast.Sub: ast.Add,
    ast.Mult: ast.Div,
    ast.Div: ast.Mult,
    ast.FloorDiv: ast.Mult,
    ast.Mod: ast.FloorDiv,
    ast.BitOr: ast.BitAnd,
    ast.BitAnd: ast.BitOr,
}
TAKEN_FOR = {
    "min": ("max",), "max": ("min",), "any": ("all",), "all": ("any",),
    "STOP": ("ASK", "NOTE"), "ASK": ("STOP", "NOTE"), "NOTE": ("STOP", "ASK"),
    "longer_s": ("shorter_s",), "shorter_s": ("longer_s",), "shared_ms": ("at_ms",), "at_ms": ("shared_ms",),
    "filled": ("last_fill",), "last_fill": ("filled",), "tablet": ("page",), "page": ("tablet",),
}  # fmt: skip
NEXT_LIMIT = dict(zip(LIMITS, [*list(LIMITS)[1:], next(iter(LIMITS))], strict=True))
CODES = [kind.code for kind in KINDS]
NEXT_CODE = dict(zip(CODES, [*CODES[1:], CODES[0]], strict=True))
# Lists for the language, names of types, a date that nothing is judged by.
NO_RULES = ("__all__", "Spelling", "Key", "Shape", "Queue", "FIRST_EDITION")
# Calls whose arguments are a list of cases.
LISTS_OF_CASES = ("word", "fields", "_about_a_tube", "of_kind")


def mistakes(file: str, source: str) -> list[Mistake]:
    """Every mistake there is to be made in this module."""
    walk = Walk(file, source)
    walk.visit(ast.parse(source))
    return once_each([*walk.found, *forgotten(file, source)])


@dataclass
class Walk(ast.NodeVisitor):
    """Notes down every mistake on its way through the tree; what is only for readers is left out."""

    file: str
    source: str
    found: list[Mistake] = field(default_factory=list)
    in_function: bool = False

    def __post_init__(self) -> None:
        self._lines = [0]
        for line in self.source.splitlines(keepends=True):
            self._lines.append(self._lines[-1] + len(line))

    # ---- writing one down

    def _place(self, line: int, column: int) -> int:
        """Columns of the tree count bytes."""
        start = self._lines[line - 1]
        return start + len(self.source[start:].encode()[:column].decode())

    def _span(self, node: ast.expr | ast.stmt) -> tuple[int, int]:
        return self._place(node.lineno, node.col_offset), self._place(node.end_lineno or 0, node.end_col_offset or 0)

    def note(self, node: ast.expr | ast.stmt, new: ast.expr | str, without: ast.AST | None = None) -> None:
        text = new if isinstance(new, str) else f"({ast.unparse(new)})"
        what = "" if without is None else f"without {ast.unparse(without)}"
        self.found.append(made(self.file, self.source, *self._span(node), text, what))

    # ---- what is only for readers

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        outside, self.in_function = self.in_function, True
        for statement in node.body:
            self.visit(statement)
        for default in [*node.args.defaults, *node.args.kw_defaults]:
            if default is not None:
                self.visit(default)
        self.in_function = outside

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        for statement in node.body:
            self.visit(statement)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def visit_Assign(self, node: ast.Assign) -> None:
        if any(isinstance(target, ast.Name) and target.id in NO_RULES for target in node.targets):
            return
        self._unsaid(node, isinstance(node.targets[0], ast.Attribute | ast.Subscript))
        self.visit(node.value)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        """Texts with values in them are for people; the tree also has no true places inside them."""

    def visit_Subscript(self, node: ast.Subscript) -> None:
        self._last_for_first(node)
        self.generic_visit(node)

    # ---- the mistakes

    def visit_Compare(self, node: ast.Compare) -> None:
        for place, operator in enumerate(node.ops):
            for other in COMPARISONS[type(operator)]:
                ops = [*node.ops[:place], other(), *node.ops[place + 1 :]]
                self.note(node, ast.Compare(node.left, ops, node.comparators))
        self.generic_visit(node)

    def visit_BoolOp(self, node: ast.BoolOp) -> None:
        other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        self.note(node, ast.BoolOp(other, node.values))
        for place in range(len(node.values)):
            left = node.values[:place] + node.values[place + 1 :]
            self.note(node, left[0] if len(left) == 1 else ast.BoolOp(node.op, left))
        self.generic_visit(node)

    def visit_UnaryOp(self, node: ast.UnaryOp) -> None:
        if isinstance(node.op, ast.Not | ast.USub):
            self.note(node, node.operand)
        self.generic_visit(node)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        if type(node.op) in SUMS:
            self.note(node, ast.BinOp(node.left, SUMS[type(node.op)](), node.right))
        self.generic_visit(node)

    def visit_If(self, node: ast.If) -> None:
        self.note(node.test, "True")
        self.note(node.test, "False")
        self.generic_visit(node)

    def visit_IfExp(self, node: ast.IfExp) -> None:
        self.note(node, node.body)
        self.note(node, node.orelse)
        self.generic_visit(node)

    def visit_comprehension(self, node: ast.comprehension) -> None:
        for test in node.ifs:
            self.note(test, "True")
        self.generic_visit(node)

    def visit_Constant(self, node: ast.Constant) -> None:
        if isinstance(node.value, bool):
            self.note(node, str(not node.value))
        elif isinstance(node.value, int | float):
            self.note(node, repr(node.value + 1))
            self.note(node, repr(node.value - 1))
        elif node.value in NEXT_LIMIT:
            self.note(node, repr(NEXT_LIMIT[node.value]))
        elif node.value in NEXT_CODE:
            self.note(node, repr(NEXT_CODE[node.value]))

    def visit_Name(self, node: ast.Name) -> None:
        if isinstance(node.ctx, ast.Load):
            for other in TAKEN_FOR.get(node.id, ()):
                self.note(node, other)

    def visit_Attribute(self, node: ast.Attribute) -> None:
        for other in TAKEN_FOR.get(node.attr, ()):
            self.note(node, ast.Attribute(node.value, other, node.ctx))
        self.generic_visit(node)

    def visit_Tuple(self, node: ast.Tuple) -> None:
        self._a_case_missing(node)

    def visit_List(self, node: ast.List) -> None:
        self._a_case_missing(node)

    def visit_Set(self, node: ast.Set) -> None:
        self._a_case_missing(node)

    def visit_Dict(self, node: ast.Dict) -> None:
        for place in range(len(node.keys)):
            keys, values = node.keys[:place] + node.keys[place + 1 :], node.values[:place] + node.values[place + 1 :]
            self.note(node, ast.Dict(keys, values), node.keys[place] or node.values[place])
        self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        name = node.func.id if isinstance(node.func, ast.Name) else getattr(node.func, "attr", "")
        default = node.args[1] if name == "get" and len(node.args) == 2 else None
        if isinstance(default, ast.Constant) and isinstance(default.value, str):
            self.note(default, "'other'")
        if name in LISTS_OF_CASES:
            self._an_argument_missing(node)
        if name == "Limit" and node.args:
            self.visit(node.args[0])  # The rest is for readers, and for whoever changes the book.
        else:
            self.generic_visit(node)

    def visit_Expr(self, node: ast.Expr) -> None:
        if isinstance(node.value, ast.Constant):
            return
        self._unsaid(node, True)
        self.generic_visit(node)

    def visit_AugAssign(self, node: ast.AugAssign) -> None:
        self._unsaid(node, True)
        self.generic_visit(node)

    def visit_Raise(self, node: ast.Raise) -> None:
        self._unsaid(node, True)

    def visit_Continue(self, node: ast.Continue) -> None:
        self._unsaid(node, True)

    def visit_Return(self, node: ast.Return) -> None:
        self._unsaid(node, node.value is None)
        self.generic_visit(node)

    def _unsaid(self, node: ast.stmt, may_be: bool) -> None:
        if self.in_function and may_be:
            self.note(node, "pass")

    def _a_case_missing(self, node: ast.Tuple | ast.List | ast.Set) -> None:
        if isinstance(getattr(node, "ctx", ast.Load()), ast.Load):
            for place in range(len(node.elts)):
                left = node.elts[:place] + node.elts[place + 1 :]
                empty = isinstance(node, ast.Set) and not left
                self.note(node, "set()" if empty else type(node)(elts=left, ctx=ast.Load()), node.elts[place])
        self.generic_visit(node)

    def _an_argument_missing(self, node: ast.Call) -> None:
        for place in range(len(node.args)):
            left = node.args[:place] + node.args[place + 1 :]
            self.note(node, ast.Call(node.func, left, node.keywords), node.args[place])
        for place, keyword in enumerate(node.keywords):
            others = node.keywords[:place] + node.keywords[place + 1 :]
            self.note(node, ast.Call(node.func, node.args, others), keyword)

    def _last_for_first(self, node: ast.Subscript) -> None:
        if isinstance(node.slice, ast.UnaryOp) and isinstance(node.slice.op, ast.USub):
            self.note(node.slice, "0")
        elif isinstance(node.slice, ast.Constant) and node.slice.value == 0:
            self.note(node.slice, "-1")
