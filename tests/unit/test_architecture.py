"""The shape of the code: who may import whom, who may write, what must not creep in."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "render"
STAGES = {"read", "plan", "sew", "draw", "inspect", "compose", "write"}
# errors, model <- colour <- materials <- stages <- preview <- report, inspection <- proof <- __init__, cli
LAYER = {
    "errors": 0,
    "_kernel_cache": 0,
    "disk_cache": 0,
    "ahead": 0,
    "apart": 0,
    "columns": 0,
    "compiled": 0,
    "memory": 0,
    "photos": 0,
    "modules": 0,
    "model": 1,
    "colour": 2,
    "words": 2,
    "fonts": 0,
    "materials": 3,
    **dict.fromkeys(STAGES, 4),
    "preview": 5,
    "swatch": 5,
    "fit": 7,
    "report": 6,
    "choices": 6,
    "terminal": 6,
    "inspection": 6,
    "pull": 6,
    "scene": 6,
    "changes": 6,
    "compare": 6,
    "animation": 6,
    "asked": 6,
    "proof": 7,
    "__init__": 8,
    "cli": 8,
    "__main__": 9,
}
MODULES = sorted(PACKAGE.rglob("*.py"))


def part_of(module: Path) -> str:
    """The part of the program that a module belongs to: a stage, or a top-level module."""
    return module.relative_to(PACKAGE).with_suffix("").parts[0]


def imports(module: Path) -> Iterator[tuple[str, int]]:
    """Dotted names that a module imports anywhere, with their lines."""
    for node in ast.walk(ast.parse(module.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((alias.name, node.lineno) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}:{node.lineno}: relative import"
            assert node.module
            yield node.module, node.lineno
            if node.module == "render":
                yield from ((f"render.{alias.name}", node.lineno) for alias in node.names)


def own_imports(module: Path) -> Iterator[tuple[str, int]]:
    """The parts of the program that a module imports, with the lines."""
    for name, line in imports(module):
        if name.startswith("render."):
            yield name.split(".")[1], line


def where(module: Path, line: int) -> str:
    return f"{module.relative_to(PACKAGE.parent)}:{line}"


@pytest.mark.parametrize("module", MODULES, ids=lambda m: str(m.relative_to(PACKAGE)))
def test_imports_point_one_way(module: Path) -> None:
    here = part_of(module)
    assert here in LAYER, f"{here} has no place in the order of parts"
    wrong = [
        f"{where(module, line)} imports {there}"
        for there, line in own_imports(module)
        if there != here
        and there in LAYER
        and LAYER[there] >= LAYER[here]
        # Lazily loaded names of the package: the cli and __init__ may name everything else.
        and not (here == "__init__" and there == "cli")
    ]
    assert not wrong, wrong


def test_the_check_sees_an_import_that_points_the_wrong_way(tmp_path: Path) -> None:
    module = tmp_path / "wrong.py"
    module.write_text("def f():\n    from render.draw.stack import stack\n    import render.plan.blocks\n")
    assert list(own_imports(module)) == [("draw", 2), ("plan", 3)]


def test_only_the_command_line_knows_typer() -> None:
    users = {
        part_of(m)
        for m in MODULES
        for name, _ in imports(m)
        if name.split(".")[0] in ("typer", "click", "rich")
    }
    assert users == {"cli"}


def test_only_the_command_line_prints() -> None:
    prints = [
        where(module, node.lineno)
        for module in MODULES
        if part_of(module) != "cli"
        for node in ast.walk(ast.parse(module.read_text("utf-8")))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "print"
    ]
    assert not prints


WRITERS = {
    "write_text",
    "write_bytes",
    "mkdir",
    "unlink",
    "rename",
    "replace",
    "save",
    "savez",
    "tofile",
    "dump",
}


def test_only_write_and_the_command_line_write_files() -> None:
    """By the names of calls; `str.replace` is told from `Path.replace` by its two arguments.

    Caches are no results: they are looked for and replaced by the part they speed up.
    """
    found = []
    for module in MODULES:
        if part_of(module) in ("write", "cli") or module.stem.endswith("cache"):
            continue
        for node in ast.walk(ast.parse(module.read_text("utf-8"))):
            if not isinstance(node, ast.Call):
                continue
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            if name == "replace" and (len(node.args) != 1 or node.keywords):
                continue
            opens_to_write = name == "open" and any(
                isinstance(value, ast.Constant)
                and isinstance(value.value, str)
                and set("wax+") & set(value.value)
                for value in [*node.args[:2], *(k.value for k in node.keywords if k.arg == "mode")]
                if isinstance(value, ast.Constant) and len(str(value.value)) <= 3
            )
            if name in WRITERS or opens_to_write:
                found.append(where(module, node.lineno))
    assert not found


@pytest.mark.parametrize(
    ("pattern", "why"),
    [
        (
            r"\bexcept\s*:|except (Base)?Exception\b",
            "catches faults of the program as if they were the user's",
        ),
        (r"fastmath\s*=\s*True", "breaks nan and repeatability"),
        (r"np\.random\.(seed|rand|randn|random|normal|uniform)\b", "random numbers come from one seed"),
        (r"\btime\.time\(|datetime\.now\(", "pictures do not depend on the clock"),
        (r"\b(TODO|FIXME|XXX:|HACK)\b", "unfinished work"),
        (r"NotImplementedError", "unfinished work"),
    ],
)
def test_what_must_not_creep_in(pattern: str, why: str) -> None:
    found = [
        where(module, number)
        for module in MODULES
        # The last resort for faults of the program is the command line's own.
        if not (part_of(module) == "cli" and "except" in pattern)
        for number, line in enumerate(module.read_text("utf-8").splitlines(), 1)
        if re.search(pattern, line)
    ]
    assert not found, why


@pytest.mark.parametrize("module", MODULES, ids=lambda m: str(m.relative_to(PACKAGE)))
def test_modules_stay_small_enough_to_read(module: Path) -> None:
    assert len(module.read_text("utf-8").splitlines()) <= 300
    assert module.name == "__init__.py" or ast.get_docstring(ast.parse(module.read_text("utf-8")))


def statements(function: ast.FunctionDef) -> int:
    """Lines of a function from the first after its signature and docstring to its end."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return function.body[-1].end_lineno - body[0].lineno + 1 if body else 0  # type: ignore[operator]


@pytest.mark.parametrize("module", MODULES, ids=lambda m: str(m.relative_to(PACKAGE)))
def test_functions_stay_small_enough_to_read(module: Path) -> None:
    long = [
        f"{where(module, node.lineno)} {node.name}: {statements(node)} lines"
        for node in ast.walk(ast.parse(module.read_text("utf-8")))
        if isinstance(node, ast.FunctionDef) and statements(node) > 60
    ]
    assert not long


def test_tests_stay_small_enough_to_read() -> None:
    long = [
        str(path.relative_to(PACKAGE.parent))
        for path in (PACKAGE.parent / "tests").rglob("*.py")
        if len(path.read_text("utf-8").splitlines()) > 300
    ]
    assert not long


def test_files_shipped_carry_no_absolute_path_of_the_machine_they_were_made_on() -> None:
    root = PACKAGE.parent
    texts = [*MODULES, *root.glob("*.md"), *root.glob("*.toml"), *(root / "textures").rglob("*.toml")]
    found = [
        where(path, number)
        for path in texts
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if re.search(r"(?<![\w.~])/(work|home|root|Users|mnt)/\w", line)
    ]
    assert not found


PAGE = (PACKAGE.parent / "docs" / "architecture.md").read_text("utf-8")


def test_the_page_shows_the_layers_as_they_are() -> None:
    rows = re.findall(r"^ (\d)  (\w.*)$", PAGE, re.MULTILINE)
    shown = {part: int(row) for row, parts in rows for part in parts.split()}
    parts = {part_of(module) for module in MODULES}
    assert shown == {part: layer for part, layer in LAYER.items() if part in parts}


def signature(name: str) -> ast.FunctionDef:
    """The function by which a stage is entered."""
    found = [
        node
        for module in MODULES
        if part_of(module) in STAGES and module.stem in ("__init__", "picture")
        for node in ast.parse(module.read_text("utf-8")).body
        if isinstance(node, ast.FunctionDef) and node.name == name
    ]
    assert len(found) == 1, name
    return found[0]


def test_the_page_shows_what_the_stages_take_and_give() -> None:
    (line,) = re.findall(r"^ +Design ── .*$", PAGE, re.MULTILINE)
    steps = re.findall(r"(\w+) ── (\w+) ──► (?=(\w+))", line)
    assert len(steps) == 5
    for taken, name, given in [("", "read_design", "Design"), *steps]:
        function = signature(name)
        assert function.returns
        if taken:
            assert taken in ast.unparse(function.args.args[0])
        assert given == "file" or given in re.findall(r"\w+", ast.unparse(function.returns))
    piece = signature("inspect")
    assert "Piece" in ast.unparse(piece.args.args[0])
    assert ast.unparse(piece.returns or piece) == "Inspection"
