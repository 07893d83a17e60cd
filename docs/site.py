"""One static site of the documents and of every public name's docstring: python docs/site.py FOLDER

Documents keep their places, so that links between them and pictures hold; the pages of the code lie in
`code/`. Nothing is fetched.
"""

from __future__ import annotations

import pkgutil
import re
import shutil
import sys
import warnings
from importlib import import_module
from pathlib import Path

import pdoc
from markdown2 import markdown

import render

ROOT = Path(__file__).parent.parent
DOCUMENTS = ("README.md", "DEVELOPERS.md", "CHANGELOG.md", "docs/*.md", "examples/README.md")
PAGE = """<!doctype html><html lang="en"><meta charset="utf-8">
<meta name="viewport" content="width=device-width"><title>{title}</title>
<style>body{{font:16px/1.5 sans-serif;max-width:52rem;margin:2rem auto;padding:0 1rem;color:#222}}
img{{max-width:100%}}pre{{overflow-x:auto;background:#f3f3ef;padding:.7rem}}table{{border-collapse:collapse}}
td,th{{border:1px solid #ccc;padding:.2rem .5rem;text-align:left}}</style>
<nav>{links}</nav>
{body}</html>
"""


def write_code_pages(folder: Path) -> None:
    """A page for each module, with what its names mean, in which units, and from which source."""
    for name in render.__all__:  # found when first used: here they must be there
        vars(render)[name] = getattr(import_module(render._HOME[name]), name)
    pdoc.render.configure(docformat="markdown", search=True, show_source=False)
    found = (module.name for module in pkgutil.walk_packages(render.__path__, "render."))
    names = [name for name in found if "._" not in name]
    with warnings.catch_warnings():
        # Each is named, for packages with `__all__` hide theirs; those without name them again.
        warnings.filterwarnings("ignore", "The module specification")
        pdoc.pdoc("render", *names, output_directory=folder)


def page(path: Path, documents: list[Path]) -> str:
    """A document as a page; links lead to pages instead of documents."""
    text = path.read_text("utf-8")
    body = markdown(text, extras=["fenced-code-blocks", "tables", "header-ids", "cuddled-lists"])
    body = re.sub(r'href="(?!\w+:)([^"#]+)\.md(#[^"]*)?"', r'href="\1.html\2"', body)
    up = "../" * (len(path.relative_to(ROOT).parts) - 1)
    targets = [("code/index.html", "code"), *((html(d), d.stem) for d in documents)]
    links = " · ".join(f'<a href="{up}{target}">{name}</a>' for target, name in targets)
    return PAGE.format(title=f"Twillight: {path.stem}", links=links, body=body)


def html(document: Path) -> str:
    return document.relative_to(ROOT).with_suffix(".html").as_posix()


def write_site(folder: Path) -> None:
    """The whole site, `index.html` first."""
    folder.mkdir(parents=True, exist_ok=True)
    write_code_pages(folder / "code")
    documents = [path for pattern in DOCUMENTS for path in sorted(ROOT.glob(pattern))]
    for document in documents:
        place = folder / html(document)
        place.parent.mkdir(exist_ok=True)
        place.write_text(page(document, documents), "utf-8")
        for target in re.findall(r"\]\(([^)#:]+\.(?:jpg|png))\)", document.read_text("utf-8")):
            copy = place.parent / target
            copy.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(document.parent / target, copy)
    shutil.copyfile(ROOT / "LICENSE", folder / "LICENSE")
    shutil.copyfile(folder / "README.html", folder / "index.html")


if __name__ == "__main__":
    write_site(Path(sys.argv[1]))
