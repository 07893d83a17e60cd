"""Pieces of embroidery whose kind, spacing, angle and width are known because they were made so.

Every piece is a path of needle points in mm with the truth about each of its stitches. Points are
rounded to the 0.1 mm of machine files, as real ones are.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from render.model import Command, Design, Machine

Points = NDArray[np.float64]
UNSURE = Machine("unknown", "", None, None, None, 15, (300, 200), 800, 600)
CUTTER = Machine("cutter", "", True, 3, True, 15, (300, 200), 800, 600)
NO_CUTTER = Machine("old", "", False, None, None, 1, (100, 100), 600, 400)
BY_LENGTH = Machine("short", "", None, None, None, 1, (100, 100), 600, 400, 3.0)
BY_LONGER = Machine("long", "", True, None, None, 1, (100, 100), 600, 400, 30.0)


@dataclass(frozen=True)
class Piece:
    """Needle points and the kind of the stitch that ends at each but the first.

    `truth` holds what is known of the main object: row_spacing_mm, angle_deg, width_mm, length_mm.
    """

    points_mm: Points
    kinds: tuple[str, ...]
    truth: dict[str, float] = field(default_factory=dict)

    def then(self, *others: Piece) -> Piece:
        """Sewn on without a break; the stitches that lead from one piece to the next are running.

        The truth that counts is the last one's.
        """
        made = self
        for other in others:
            gap = other.points_mm[0] - made.points_mm[-1]
            steps = max(1, int(np.ceil(np.hypot(*gap) / 2.5))) if np.hypot(*gap) > 0.01 else 0
            way = made.points_mm[-1] + gap * np.arange(1, steps + 1)[:, None] / max(steps, 1)
            points = np.concatenate([made.points_mm, way[:-1], other.points_mm[0 if steps else 1 :]])
            lead = "underlay" if made.kinds[-1] == "underlay" else "running"
            kinds = made.kinds + (lead,) * steps + other.kinds
            made = Piece(points, kinds, other.truth or made.truth)
        return made

    def as_underlay(self) -> Piece:
        """The same stitches, to be covered by what is sewn over them."""
        return Piece(self.points_mm, ("underlay",) * len(self.kinds), self.truth)

    def turned(self, degrees: float, at: tuple[float, float] = (0.0, 0.0)) -> Piece:
        """Turned about the origin, then moved to `at`."""
        a = np.deg2rad(degrees)
        turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
        truth = dict(self.truth)
        if "angle_deg" in truth:
            truth["angle_deg"] = (truth["angle_deg"] + degrees) % 180
        return Piece(self.points_mm @ turn + np.array(at), self.kinds, truth)


def _piece(points: Any, kind: str, **truth: float) -> Piece:
    points = np.asarray(points, float)
    return Piece(points, (kind,) * (len(points) - 1), truth)


def path_running(path: Points, stitch_mm: float, kind: str = "running") -> Piece:
    """Running stitches of even length along a path given as dense points."""
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    steps = max(1, round(along[-1] / stitch_mm))
    at = np.linspace(0, along[-1], steps + 1)
    points = np.stack([np.interp(at, along, path[:, i]) for i in (0, 1)], 1)
    return _piece(points, kind, length_mm=float(along[-1]))


def straight(length_mm: float, dense: int = 200) -> Points:
    return np.stack([np.linspace(0, length_mm, dense), np.zeros(dense)], 1)


def arc(radius_mm: float, degrees: float, dense: int = 400) -> Points:
    a = np.deg2rad(np.linspace(0, degrees, dense))
    return radius_mm * np.stack([np.sin(a), 1 - np.cos(a)], 1)


def wave(length_mm: float, height_mm: float, dense: int = 600) -> Points:
    x = np.linspace(0, length_mm, dense)
    return np.stack([x, height_mm * np.sin(2 * np.pi * x / length_mm)], 1)


def rail(path: Points, offset_mm: float) -> Points:
    """The path moved sideways."""
    way = np.gradient(path, axis=0)
    way /= np.hypot(*way.T)[:, None]
    return path + offset_mm * np.stack([-way[:, 1], way[:, 0]], 1)


def column(path: Points, width_mm: float, spacing_mm: float, kind: str = "satin") -> Piece:
    """Zigzag along a path; `spacing_mm` between needle points of one edge, measured on the path.

    The truth is what lies between them on the longer edge.
    """
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    count = max(4, round(2 * along[-1] / spacing_mm))
    at = np.linspace(0, along[-1], count + 1)
    edges = [rail(path, side * width_mm / 2) for side in (-1, 1)]
    longer = np.max([np.hypot(*np.diff(edge, axis=0).T) for edge in edges], axis=0).sum()
    points = [[float(np.interp(s, along, edges[i % 2][:, k])) for k in (0, 1)] for i, s in enumerate(at)]
    return _piece(
        points,
        kind,
        row_spacing_mm=2 * float(longer) / count,
        angle_deg=90.0,
        width_mm=width_mm,
        length_mm=float(along[-1]),
    )


def edge_run(path: Points, width_mm: float, inset_mm: float = 0.4, stitch_mm: float = 2.0) -> Piece:
    """Out along one edge and back along the other."""
    there = rail(path, width_mm / 2 - inset_mm)
    back = rail(path, inset_mm - width_mm / 2)[::-1]
    return path_running(np.concatenate([there, back]), stitch_mm)


def centre_run(path: Points, stitch_mm: float = 2.0) -> Piece:
    """Out and back along the middle."""
    return path_running(path, stitch_mm).then(path_running(path[::-1], stitch_mm))


def split_column(length_mm: float, width_mm: float, spacing_mm: float, parts: int) -> Piece:
    """Satin so wide that each row is split, at places that move from row to row."""
    count = round(2 * length_mm / spacing_mm)
    points: list[tuple[float, float]] = []
    for i in range(count):
        x = i * spacing_mm / 2
        a, b = (-1, 1) if i % 2 == 0 else (1, -1)
        shift = (0.0, 0.35, 0.15, 0.5)[i % 4] - 0.25
        points.append((x, a * width_mm / 2))
        for k in range(1, parts):
            t = (k + shift * 0.6) / parts
            points.append((x + t * spacing_mm / 2, width_mm / 2 * (a + t * (b - a))))
    return _piece(
        points,
        "split-satin",
        row_spacing_mm=spacing_mm,
        angle_deg=90.0,
        width_mm=width_mm,
        length_mm=length_mm,
    )


def disc_fill(radius_mm: float, spacing_mm: float, stitch_mm: float, offsets: int = 3) -> Piece:
    """Tatami fill of a disc: rows along x, points staggered."""
    points: list[tuple[float, float]] = []
    ys = np.arange(-radius_mm + spacing_mm, radius_mm - spacing_mm / 2, spacing_mm)
    for row, y in enumerate(ys):
        half = float(np.sqrt(radius_mm**2 - y**2))
        first = np.ceil((-half) / stitch_mm) * stitch_mm
        inner = np.arange(first - stitch_mm, half, stitch_mm) + stitch_mm * (row * 2 % (offsets * 2 - 1)) / (
            offsets * 2 - 1
        )
        inner = inner[np.abs(inner) < half - 0.7]
        xs = np.concatenate([[-half], inner, [half]])
        points += [(float(x), float(y)) for x in (xs if row % 2 == 0 else xs[::-1])]
    return _piece(
        points,
        "fill",
        row_spacing_mm=spacing_mm,
        angle_deg=0.0,
        width_mm=float(ys[-1] - ys[0]),
        length_mm=2 * radius_mm,
    )


def box_fill(
    width_mm: float, height_mm: float, spacing_mm: float, stitch_mm: float, slant: float = 0.0
) -> Piece:
    """Fill of a parallelogram, rows along x."""
    points: list[tuple[float, float]] = []
    ys = np.arange(0, height_mm + 1e-9, spacing_mm)
    for row, y in enumerate(ys):
        left = slant * y
        inner = left + np.arange(stitch_mm * (0.3 + 0.2 * (row % 4)), width_mm - 0.7, stitch_mm)
        xs = np.concatenate([[left], inner, [left + width_mm]])
        points += [(float(x), float(y)) for x in (xs if row % 2 == 0 else xs[::-1])]
    return _piece(points, "fill", row_spacing_mm=spacing_mm, angle_deg=0.0, width_mm=float(ys[-1]))


def zigzag_fill(width_mm: float, height_mm: float, spacing_mm: float, stitch_mm: float) -> Piece:
    """Fill without steps along the edge: the rows themselves slant from side to side.

    Made narrow, it is the same thing as a split satin.
    """
    points: list[tuple[float, float]] = []
    for row in range(round(height_mm / spacing_mm)):
        t = np.arange(stitch_mm * (0.3 + 0.2 * (row % 4)), width_mm - 0.7, stitch_mm) / width_mm
        t = np.concatenate([[0.0], t])
        x = t if row % 2 == 0 else 1 - t
        points += [(float(a) * width_mm, (row + float(b)) * spacing_mm) for a, b in zip(x, t, strict=True)]
    return _piece(points, "fill", row_spacing_mm=spacing_mm, angle_deg=0.0)


def bean(path: Points, stitch_mm: float) -> Piece:
    """Every stitch forward, back and forward again."""
    line = path_running(path, stitch_mm)
    points = [line.points_mm[0]]
    for a, b in zip(line.points_mm[:-1], line.points_mm[1:], strict=True):
        points += [b, a, b]
    return _piece(points, "bean", length_mm=line.truth["length_mm"])


def e_stitch(path: Points, leg_mm: float, spacing_mm: float) -> Piece:
    """Along the path, at each step a leg out sideways and back."""
    line = path_running(path, spacing_mm).points_mm
    outer = rail(path, leg_mm)
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    at = np.linspace(0, along[-1], len(line))
    tips = np.stack([np.interp(at, along, outer[:, k]) for k in (0, 1)], 1)
    points = []
    for base, tip in zip(line, tips, strict=True):
        points += [base, tip, base]
    return _piece(
        points,
        "e-stitch",
        row_spacing_mm=float(along[-1]) / (len(line) - 1),
        width_mm=leg_mm,
        length_mm=float(along[-1]),
    )


def crosses(count: int, size_mm: float, *, whole: bool) -> Piece:
    """A row of crosses: one after the other, or all first strokes and then all second ones back."""
    if not whole:
        out = [(k, k % 2) for k in range(count + 1)]
        back = [(k, 1 - k % 2) for k in range(count, -1, -1)]
        return _piece(np.array(out + back, float) * size_mm, "cross-stitch", width_mm=size_mm)
    points: list[tuple[float, float]] = []
    for k in range(count):
        points += [(k, 0), (k + 1, 1), (k, 1), (k + 1, 0)]
    return _piece(np.array(points, float) * size_mm, "cross-stitch", width_mm=size_mm)


def tie(at: tuple[float, float], along: tuple[float, float], stitch_mm: float = 0.6, times: int = 3) -> Piece:
    """Tiny stitches forth and back; an even number of them ends where it began."""
    a, step = np.array(at), np.array(along) / np.hypot(*along) * stitch_mm
    return _piece([a + step * (k % 2) for k in range(times + 1)], "tie")


@dataclass(frozen=True)
class Sewing:
    """A design put together from pieces, and the kind of each of its stitches."""

    design: Design
    kinds: tuple[str, ...]


def design_of(
    xy_mm: Any,
    command: Any,
    *,
    trim_rule: Any = "explicit",
    split: bool = False,
    form: str = "exp",
    colours: tuple[Any, ...] = (None,),
) -> Design:
    return Design(
        "made",
        form,
        np.asarray(xy_mm, float).reshape(-1, 2),
        np.asarray(command, np.uint8),
        colours,
        trim_rule,
        split,
        "",
    )


def sewing(
    *pieces: Piece, between: tuple[Command, ...] = (Command.TRIM, Command.JUMP), **options: Any
) -> Sewing:
    """Pieces sewn one after the other, parted by the commands `between`, rounded to 0.1 mm."""
    xy: list[Points] = []
    command: list[int] = []
    kinds: list[str] = []
    for i, piece in enumerate(pieces):
        points = np.round(piece.points_mm, 1)
        keep = np.concatenate([[True], np.hypot(*np.diff(points, axis=0).T) > 0.01])
        if i:
            for what in between:
                xy.append(xy[-1][-1:] if what != Command.JUMP else points[:1])
                command.append(what)
        xy.append(points[keep])
        command += [Command.STITCH] * int(keep.sum())
        kinds += np.array(piece.kinds)[keep[1:]].tolist()
    return Sewing(design_of(np.concatenate(xy), command, **options), tuple(kinds))
