"""The public surface is one list."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import plumbend


def names_for_type_checkers() -> dict[str, str]:
    """Name to module, as the imports under TYPE_CHECKING say it."""
    assert plumbend.__file__ is not None
    tree = ast.parse(Path(plumbend.__file__).read_text(encoding="utf-8"))
    guard = next(node for node in tree.body if isinstance(node, ast.If))
    imports = [node for node in guard.body if isinstance(node, ast.ImportFrom)]
    return {alias.name: node.module or "" for node in imports for alias in node.names}


def test_surface_is_its_list() -> None:
    assert plumbend.__all__ == sorted(plumbend.__all__)
    assert dir(plumbend) == plumbend.__all__
    assert set(names_for_type_checkers()) == set(plumbend.__all__)


@pytest.mark.parametrize("name", plumbend.__all__)
def test_every_name_comes_from_the_module_told_to_type_checkers(name: str) -> None:
    assert getattr(plumbend, name).__module__ == names_for_type_checkers()[name]


def test_any_other_name_is_refused() -> None:
    with pytest.raises(AttributeError, match=r"^module 'plumbend' has no attribute 'slove'$"):
        _ = plumbend.slove
