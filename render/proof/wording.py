"""The words of a proof in each language: `render/presets/words/<code>.toml`, all with the same keys.

What a language does not know, since it came later, brings its own words along: kinds of thread and of
problem do. Where they have none in a language, the English ones stand.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

from render.errors import InputError
from render.inspect import kinds
from render.materials.fibres import thread_names
from render.materials.own_file import shown
from render.materials.presets import preset, preset_names

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

USUAL_LANGUAGE = "en"
MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class Words:
    """One language: `code` as BCP 47 has it, tables of words by key, and how it writes numbers."""

    code: str
    name: str
    decimal: str
    tables: dict[str, dict[str, str]]

    def say(self, table: str, key: str, **values: object) -> str:
        """The words of a key with its {braces} filled in; the words are ours, the values anybody's."""
        return self.tables[table][key].format(**values)

    def known(self, table: str, key: str, otherwise: str) -> str:
        """The words of a key, or others where a shop has named something of its own."""
        return self.tables[table].get(key, otherwise)

    def number(self, value: float, digits: int = 0) -> str:
        """`10,928` or `80.8` as the language writes it."""
        grouped = f"{value:,.{digits}f}"
        between = {".": ",", ",": "\u202f"}[self.decimal]
        return grouped.replace(",", "\0").replace(".", self.decimal).replace("\0", between)

    def mm(self, value: float, digits: int = 1) -> str:
        """`80.8 mm` as the language writes it."""
        return f"{self.number(value, digits)}\u00a0mm"

    def inches(self, value_mm: float) -> str:
        """`3.18 in` of so many mm, as the language writes it."""
        return f"{self.number(value_mm / MM_PER_INCH, 2)}\u00a0in"

    def clock(self, seconds: float) -> str:
        """`20:41` minutes and seconds, `1:05:00` from an hour on."""
        minutes, rest = divmod(round(seconds), 60)
        hours, left = divmod(minutes, 60)
        return f"{hours}:{left:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"


def languages() -> dict[str, str]:
    """Codes of the languages and what each calls itself."""
    return {code: str(preset(f"words/{code}.toml")["name"]) for code in preset_names("words")}


def language_of(wanted: str) -> str:
    """The code of the language that somebody means by `de`, `de-AT`, `Deutsch` or `German`.

    Empty means English. Raises InputError that lists the codes.
    """
    plain = wanted.strip().lower().replace("_", "-")
    for code in preset_names("words"):
        values = preset(f"words/{code}.toml")
        if plain in (code, str(values["name"]).lower(), *values["also"]) or plain.startswith(f"{code}-"):
            return code
    if not plain:
        return USUAL_LANGUAGE
    listed = ", ".join(f"{code} ({name})" for code, name in languages().items())
    raise InputError(f"a proof cannot be written in {shown(wanted)}: its language is one of {listed}")


@cache
def words_in(code: str) -> Words:
    """The words of a language by its code, as `language_of` gives it."""
    values: dict[str, Any] = preset(f"words/{code}.toml")
    tables = {key: dict(table) for key, table in values.items() if isinstance(table, dict)}
    for table, key, said in brought_along():
        tables[table].setdefault(key, said.get(code, said[USUAL_LANGUAGE]))
    return Words(code, values["name"], values["decimal"], tables)


def brought_along() -> Iterator[tuple[str, str, Mapping[str, str]]]:
    """Table and key of the words that things bring along themselves, and what they say, by language."""
    for name, called in thread_names().items():
        yield "thread_kind", name, called
    for name, kind in kinds().items():
        yield "problem", name, {USUAL_LANGUAGE: name.replace("-", " "), **kind.called}
        if kind.said:
            yield "remark", kind.remark, kind.said
