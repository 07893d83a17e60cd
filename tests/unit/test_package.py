"""The package as it is installed: its names, its types, its data."""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

import render

HEAVY = ("numpy", "scipy", "numba", "PIL", "pyembroidery", "typer")


def run(script: str, **environment: str) -> str:
    """What a fresh interpreter prints for the script."""
    return subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, **environment},
    ).stdout


def test_public_names_are_these() -> None:
    assert render.__all__ == [
        "Design",
        "Drawn",
        "Fabric",
        "InputError",
        "Inspection",
        "Job",
        "Light",
        "Machine",
        "OutputError",
        "Picture",
        "Problem",
        "SewPlan",
        "Thread",
        "TwillightError",
        "UsageError",
        "View",
        "draw_design",
        "inspect_design",
        "load_fabric",
        "load_light",
        "load_machine",
        "load_threads",
        "make_job",
        "make_thread",
        "preview",
        "read_design",
        "report",
        "write_picture",
    ]
    for name in render.__all__:
        assert getattr(render, name) is not None
    assert set(render.__all__) <= set(dir(render))


def test_type_checkers_see_the_names_that_python_sees(repository: Path) -> None:
    """The lazy table and the imports for type checkers are two lists of the same names."""
    text = (repository / "render" / "__init__.py").read_text("utf-8")
    block = text[text.index("if TYPE_CHECKING:") : text.index("__version__")]
    imported = {
        name.strip(): home
        for home, names in re.findall(r"from (render[\w.]*) import \(?([\w,\s]+?)(?:\)|\n(?!\s{8}))", block)
        for name in names.split(",")
        if name.strip()
    }
    assert imported == render._HOME


def test_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        render.nothing  # noqa: B018
    assert not hasattr(render, "__wrapped__")


def test_functions_are_not_replaced_by_the_modules_of_their_names() -> None:
    """Whatever is imported first."""
    for first in ("import render.preview, render.report", "from render import preview", "pass"):
        shown = run(
            f"{first}\nfrom render import preview, report\nfrom render import preview as again\n"
            "from render.preview import draw_design\nimport render\n"
            "print(callable(preview), callable(report), again is preview is render.preview)"
        )
        assert shown.split() == ["True", "True", "True"]


def test_import_loads_nothing_heavy() -> None:
    loaded = run(f"import render, sys; print([m for m in {HEAVY} if m in sys.modules])")
    assert loaded.strip() == "[]"


def test_version_is_the_changelogs_newest(repository: Path) -> None:
    newest = re.search(
        r"^## \[(\d+\.\d+\.\d+)\]", (repository / "CHANGELOG.md").read_text("utf-8"), re.MULTILINE
    )
    assert newest
    assert render.__version__ == newest[1]


def test_every_library_that_the_package_imports_is_declared(repository: Path) -> None:
    project = tomllib.loads((repository / "pyproject.toml").read_text("utf-8"))["project"]
    lines = [*project["dependencies"], *project["optional-dependencies"]["video"]]
    declared = {re.split(r"[<>=!~ ]", line)[0].lower().replace("-", "_") for line in lines}
    texts = [module.read_text("utf-8") for module in (repository / "render").rglob("*.py")]
    imported = set()
    for node in (node for text in texts for node in ast.walk(ast.parse(text))):
        if isinstance(node, ast.Import):
            imported |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            imported.add(node.module.split(".")[0])
    called = {"PIL": "pillow", "fontTools": "fonttools", "fpdf": "fpdf2"}
    outside = {called.get(name, name) for name in imported - set(sys.stdlib_module_names) - {"render"}}
    assert outside <= declared
    # The stitch-file library is loaded by a process of its own, and the PDF writer loads the shaper of
    # text by itself: they are named, not imported.
    assert declared - outside <= {"pyembroidery", "uharfbuzz"}
    assert any('"pyembroidery"' in text for text in texts)


@pytest.fixture(scope="module")
def wheel(repository: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A wheel built from a copy of the checkout."""
    folder = tmp_path_factory.mktemp("wheel")
    for name in ("pyproject.toml", "README.md", "LICENSE"):
        shutil.copy(repository / name, folder)
    for name in ("render", "textures"):
        shutil.copytree(repository / name, folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder / "dist")],
        cwd=folder,
        check=True,
        capture_output=True,
    )
    return next((folder / "dist").glob("*.whl"))


def test_wheel_holds_types_profile_presets_and_textures(wheel: Path, repository: Path) -> None:
    shipped = set(zipfile.ZipFile(wheel).namelist())
    assert {"render/py.typed", "render/write/srgb.icc"} <= shipped
    textures = {
        "render/" + str(path.relative_to(repository).as_posix())
        for path in (repository / "textures").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    assert len(textures) >= 15
    assert textures <= shipped
    assert not [name for name in shipped if name.startswith(("tests/", "examples/"))]


def test_installed_copy_finds_its_textures(wheel: Path, tmp_path: Path) -> None:
    """Away from the checkout, as the wheel unpacks."""
    zipfile.ZipFile(wheel).extractall(tmp_path)
    script = (
        "import render; from render.materials.fabrics import textures_folder, load_fabric; "
        "print(render.__file__, textures_folder(), load_fabric('denim').name, sep='|')"
    )
    found = subprocess.run(
        [sys.executable, "-c", script], cwd=tmp_path, capture_output=True, text=True, check=True
    ).stdout
    assert found.strip() == f"{tmp_path / 'render/__init__.py'}|{tmp_path / 'render/textures'}|denim"


KERNEL = """
import render, os
from numba import njit
import sys; sys.path.insert(0, {folder!r})
import kernel
print(kernel.double(21), os.environ.get("NUMBA_CACHE_DIR", "unset"))
"""


def locked_down(script: str, package: Path, home: Path, temporary: Path) -> str:
    """Run a script with package and home read-only, also when the tests run as root."""
    command = [sys.executable, "-c", script]
    if os.getuid() == 0:
        if not shutil.which("setpriv"):
            pytest.skip("root ignores permissions, and there is no setpriv to give that up")
        command = ["setpriv", "--bounding-set=-dac_override", *command]
    environment = {
        **{k: v for k, v in os.environ.items() if k not in ("NUMBA_CACHE_DIR", "XDG_CACHE_HOME")},
        "PYTHONPATH": str(package),
        "HOME": str(home),
        "TMPDIR": str(temporary),
        "PYTHONDONTWRITEBYTECODE": "1",
    }
    done = subprocess.run(command, capture_output=True, text=True, env=environment, cwd=package, check=False)
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions")
def test_kernels_compile_where_package_and_home_are_read_only(repository: Path, tmp_path: Path) -> None:
    package, home, temporary = (tmp_path / name for name in ("package", "home", "temporary"))
    for folder in (package, home, temporary):
        folder.mkdir()
    shutil.copytree(repository / "render", package / "render", ignore=shutil.ignore_patterns("__pycache__"))
    (package / "kernel.py").write_text(
        "from numba import njit\n@njit(cache=True)\ndef double(x):\n    return 2 * x\n"
    )
    closed = [home, *(path for path in package.rglob("*") if path.is_dir()), package]
    for folder in closed:
        folder.chmod(0o555)
    try:
        script = KERNEL.format(folder=str(package))
        answer, cache = locked_down(script, package, home, temporary).split()
        assert answer == "42"
        assert Path(cache).parent == temporary
        assert Path(cache).stat().st_mode & 0o777 == 0o700
        compiled = list(Path(cache).rglob("*.nbi"))
        assert len(compiled) == 1
        # A folder that others may write is not trusted with code to run.
        Path(cache).chmod(0o777)
        _, other = locked_down(script, package, home, temporary).split()
        assert other != cache
    finally:
        for folder in closed:
            folder.chmod(0o755)


def test_kernel_cache_stays_where_it_was_put() -> None:
    assert (
        run("import render, os; print(os.environ['NUMBA_CACHE_DIR'])", NUMBA_CACHE_DIR="here").strip()
        == "here"
    )
