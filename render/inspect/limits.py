"""From where on the inspector speaks up, by cloth and by size of thread.

What a prediction decides is `fix` when its likely value passes the limit, `check` when only its high value
does. Where two limits are given, passing the first is `check` and the second `fix`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from render.errors import InputError
from render.inspect.found import limits
from render.materials.groups import GROUPS, SIZES, group_of, size_of
from render.materials.own_file import check_keys, number, read_toml, shown

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from render.model import Fabric, Limits, Thread


def limits_for(fabric: Fabric, thread: Thread, own: str | None = None) -> Limits:
    """The limits for one thread on a cloth; `own` is the path of a shop's own TOML file.

    What is set for a group of cloths comes before what is set for a size of thread and that before what is
    set for all, and the shop's own before what ships. Raises InputError.
    """
    group, size = group_of(fabric), size_of(thread)
    values = {name: one.but.get(group, one.but.get(size, one.usual)) for name, one in limits().items()}
    if own is None:
        return values
    table = _checked(read_toml(own, "limits"), own, tuple(values))
    set_here: dict[str, Any] = {
        **table.get("all", {}),
        **table.get("thread", {}).get(size, {}),
        **table.get("group", {}).get(group, {}),
    }
    return values | {
        name: number(set_here, name, f"limits {own}", 0, 10_000) for name in values if name in set_here
    }


def _checked(table: dict[str, Any], path: str, names: Iterable[str]) -> dict[str, Any]:
    names = (*names, "source")
    check_keys(table, ("all", "group", "thread"), path)
    for part, known in (("group", GROUPS), ("thread", SIZES)):
        check_keys(_table(table, part, path), known, f"{path}, {part}")
        for key in table.get(part, {}):
            check_keys(_table(table[part], key, path), names, f"{path}, {part}.{key}")
    check_keys(_table(table, "all", path), names, f"{path}, all")
    return table


def _table(values: Mapping[str, Any], key: str, path: str) -> Mapping[str, Any]:
    found = values.get(key, {})
    if not isinstance(found, dict):
        raise InputError(f"{path}: {key} must be a table, not {shown(found)}")
    return found
