"""The documents as one static site: every page, link and picture is there, and nothing comes from outside."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path

import pytest

pytest.importorskip("pdoc", reason="needs the extra docs")


def load(repository: Path):  # type: ignore[no-untyped-def]
    spec = importlib.util.spec_from_file_location("site_of_documents", repository / "docs" / "site.py")
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_documents_lead_to_each_other_and_to_nothing_missing(
    repository: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    site = load(repository)
    # Pages of the code take a quarter of a minute: .ci/run makes them.
    monkeypatch.setattr(site, "write_code_pages", lambda folder: None)
    site.write_site(tmp_path)
    (tmp_path / "code").mkdir()
    (tmp_path / "code" / "index.html").touch()
    pages = sorted(tmp_path.rglob("*.html"))
    assert {"index.html", "README.html", "DEVELOPERS.html", "scenes.html"} <= {page.name for page in pages}
    for page in pages:
        text = page.read_text("utf-8")
        assert "<script" not in text
        for kind, target in re.findall(r'(src|href)="([^"#]+)', text):
            if kind == "src" or not target.startswith("http"):
                assert (page.parent / target).exists(), f"{page.name}: {target}"
