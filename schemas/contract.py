"""What the contract asks, as one text and its hash: a change of it screens every file again.

Descriptions, sentences and advice are left out: they judge no row.
"""

import ast
import hashlib
import inspect
import sys
from collections.abc import Iterator

from schemas.declare import Table
from schemas.exports.catalogue import EXPORTS, REFERENCE, columns_of, key_of, moment_of, rules_of
from schemas.exports.plausible import LEAST_VALUES, PLAUSIBLE_MEDIAN


def text() -> str:
    """Return what rows and values are judged by, a line each."""
    models = EXPORTS | REFERENCE
    judged = [line for name, model in models.items() for line in lines_of(name, model)]
    modules = sorted({model.__module__ for model in models.values()})
    helpers = [line for module in modules for line in _beside_classes(module)]
    return "\n".join([*judged, *helpers, repr((LEAST_VALUES, PLAUSIBLE_MEDIAN))])


def digest() -> str:
    """Return the hash of `text`."""
    return hashlib.sha256(text().encode()).hexdigest()[:8]


def lines_of(name: str, model: type[Table]) -> list[str]:
    """Return what one table's rows are judged by: key, moment, columns and the code of its rules.

    Args:
        name: the table's name.
        model: its class.
    """
    columns = [
        (
            spec.name, str(spec.dtype), spec.required, spec.vocabulary, spec.several, spec.text,
            spec.hashed, spec.ge, spec.gt, spec.le, spec.resolution, spec.of_load,
        )
        for spec in columns_of(model)
    ]  # fmt: skip
    source = inspect.getsource(model)
    bodies = {
        node.name: [_code(source, one) for one in node.body if not _is_text(one)]
        for node in ast.walk(ast.parse(source)) if isinstance(node, ast.FunctionDef)
    }  # fmt: skip
    rules = [(rule.code, rule.refuses, bodies[rule.code]) for rule in rules_of(model)]
    return [repr(one) for one in ((name, key_of(model), moment_of(model)), *columns, *rules)]


def _beside_classes(module: str) -> Iterator[str]:
    """Yield the code of a module that its tables' rules may call: all but classes and imports."""
    source = inspect.getsource(sys.modules[module])
    for node in ast.parse(source).body:
        if not isinstance(node, (ast.ClassDef, ast.Import, ast.ImportFrom)) and not _is_text(node):
            yield _code(source, node)


def _is_text(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def _code(source: str, node: ast.stmt) -> str:
    return ast.get_source_segment(source, node) or ""
