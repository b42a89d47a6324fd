"""What a model's fields mean: the text beneath each in the source, read only when asked for.

Pydantic can read these texts too, but does so whenever the module is imported, which costs every
command a third of its start; only the schema shows them.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from itertools import pairwise

from pydantic import BaseModel


def field_texts(model: type[BaseModel]) -> dict[str, str]:
    """Return field to the text that stands beneath it, for a model's own and inherited fields."""
    found: dict[str, str] = {}
    for part in reversed(model.__mro__):
        if issubclass(part, BaseModel) and part is not BaseModel:
            found |= _own_texts(part)
    return found


def _own_texts(model: type[BaseModel]) -> dict[str, str]:
    tree = ast.parse(textwrap.dedent(inspect.getsource(model))).body[0]
    assert isinstance(tree, ast.ClassDef)
    return {
        field.target.id: inspect.cleandoc(text.value.value)
        for field, text in pairwise(tree.body)
        if isinstance(field, ast.AnnAssign)
        and isinstance(field.target, ast.Name)
        and isinstance(text, ast.Expr)
        and isinstance(text.value, ast.Constant)
        and isinstance(text.value.value, str)
    }
