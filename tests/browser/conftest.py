"""A small proof on a screen, opened from disk in a real browser without a window.

Needs Debian's chromium (or another one on the path) and the extra `browser`.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pyembroidery
import pytest

from render.materials.job import make_job
from render.proof import Proof, make_proof
from render.proof.web import proof_html
from render.read import read_design

sync_api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
SOFTWARE = ("--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader")
HOSTILE = '"><script>window.harmed = 1</script><img src=x onerror="window.harmed = 2">'
ORDER = f"""
shop = "Needle Lane Custom Apparel"
customer = "Otter & Oar Rowing Club {HOSTILE.replace('"', "&quot;")}"
order = "2041 </script><script>window.harmed = 3</script>"
notes = '''{HOSTILE} </textarea>
‮drow a‬ שלום \\u0007 {"endless" * 300}'''
revision = "${{script}} B"
fabric = "twill"
fabric_colour = "#e6e1d6"
light = "soft-studio"
finish = "cleaned"
"""


def badge() -> pyembroidery.EmbPattern:
    """A fill 24 x 18 mm, a satin cross over it, and a line over both, each in its colour."""
    pattern = pyembroidery.EmbPattern()
    for colour in ("2f5f8f", "f0e2c0", "b3322c"):
        pattern.add_thread({"hex": colour})

    def sew(points: list[tuple[float, float]]) -> None:
        for x, y in points:
            pattern.add_stitch_absolute(pyembroidery.STITCH, 10 * x, 10 * y)

    for row in range(46):
        xs = range(0, 25, 3) if row % 2 == 0 else range(24, -1, -3)
        sew([(x, row * 0.4) for x in xs])
    pattern.add_command(pyembroidery.COLOR_BREAK)
    sew([(10.5 + 3 * (step % 2), 1 + 0.2 * step) for step in range(80)])
    sew([(3 + 0.2 * step, 7.5 + 3 * (step % 2)) for step in range(90)])
    pattern.add_command(pyembroidery.COLOR_BREAK)
    sew([(1 + 2 * step, 14 - 0.6 * step) for step in range(12)])
    pattern.add_command(pyembroidery.END)
    return pattern


@dataclass
class Opened:
    """A page that is open, and what it asked for and complained of."""

    page: Any
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def slide(self, name: str, value: float) -> None:
        """Put a slider to a value as a hand would, and wait until that is drawn."""
        self.page.evaluate(
            """([name, value]) => {
                const slider = document.getElementById(name);
                slider.value = value;
                slider.dispatchEvent(new Event("input"));
                return new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
            }""",
            [name, value],
        )


@pytest.fixture(scope="session")
def proof(tmp_path_factory: pytest.TempPathFactory) -> Proof:
    """The proof of a small badge, whose order means harm."""
    folder = tmp_path_factory.mktemp("proof")
    pyembroidery.write(badge(), str(folder / "badge.pes"))
    (folder / "order.toml").write_text(ORDER, "utf-8")
    return make_proof(read_design(folder / "badge.pes"), make_job(str(folder / "order.toml")), screen=True)


@pytest.fixture(scope="session")
def file(proof: Proof, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The proof on disk, with a second cloth to choose."""
    other = replace(proof, job=replace(proof.job, fabric_colour_srgb=(0.1, 0.2, 0.3)), drawn=None)
    path = tmp_path_factory.mktemp("screen") / "proof.html"
    path.write_text(proof_html([proof, other]), "utf-8")
    return path


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    if CHROMIUM is None:
        pytest.skip("no chromium is installed")
    with sync_api.sync_playwright() as play:
        running = play.chromium.launch(executable_path=CHROMIUM, args=list(SOFTWARE))
        yield running
        running.close()


@pytest.fixture
def look(browser: Any, file: Path) -> Iterator[Callable[..., Opened]]:
    """Opens the proof: `look(width=360, height=740, dark=True, …)`."""
    contexts = []

    def opened(
        *, width: int = 1280, height: int = 700, dark: bool = False, before: str = "", **choices: Any
    ) -> Opened:
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme="dark" if dark else "light",
            **choices,
        )
        contexts.append(context)
        page = Opened(context.new_page())
        page.page.set_default_timeout(float(os.environ.get("BROWSER_PATIENCE_MS", "30000")))
        page.page.on("request", lambda request: page.requests.append(request.url))
        page.page.on("console", lambda said: page.complaints.append(said.text))
        page.page.on("pageerror", lambda fault: page.complaints.append(str(fault)))
        if before:
            context.add_init_script(before)
        page.page.goto(file.as_uri())
        if choices.get("java_script_enabled", True):
            page.page.wait_for_selector("html[data-ready]", state="attached")
        return page

    yield opened
    for context in contexts:
        context.close()
