"""Rows of eight numbers, looked up in eight places at once and turned into columns.

A loop over places that looks up a row's numbers one by one takes as many look-ups as it has numbers, and
waits for each. These take the row at one go, as vectors told outright: the compiler finds none by itself.
All sums are in the order of the plain code below, to the last bit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from llvmlite import ir
from numba import types
from numba.extending import intrinsic, overload

if TYPE_CHECKING:
    pass

EIGHT = 8
# Of two vectors, whose numbers are counted on: what is taken turns about, and by twos, of either half.
LOW, HIGH = [0, 8, 1, 9, 4, 12, 5, 13], [2, 10, 3, 11, 6, 14, 7, 15]
FIRST, LAST = [0, 1, 8, 9, 4, 5, 12, 13], [2, 3, 10, 11, 6, 7, 14, 15]


def turn_eight(table: Any, rows: Any, at: Any, wide: Any, out: Any, to: Any, far: Any) -> None:
    """Of eight rows of a table, `rows[at:at + 8]`, which begin so `wide` apart, put eight numbers each into
    `out`: number k of the n-th into `out[to + far * k + n]`."""
    for n in range(EIGHT):
        for k in range(EIGHT):
            out[to + far * k + n] = table[rows[at + n] * wide + k]


def turn_four(table: Any, rows: Any, at: Any, wide: Any, out: Any, to: Any, far: Any) -> None:
    """As `turn_eight`, but four numbers of each row."""
    for n in range(EIGHT):
        for k in range(4):
            out[to + far * k + n] = table[rows[at + n] * wide + k]


def turn_between(
    table: Any, rows: Any, at: Any, wide: Any, shares: Any, begin: Any, out: Any, to: Any, far: Any
) -> None:
    """As `turn_eight`, but what lies between each row and the next one, by the shares from `begin` on."""
    for n in range(EIGHT):
        for k in range(EIGHT):
            here = rows[at + n] * wide + k
            out[to + far * k + n] = table[here] + (table[here + wide] - table[here]) * shares[begin + n]


def mix_eight(
    table: Any, rows: Any, low: Any, high: Any, wide: Any, down: Any, out: Any, shares: Any, to: Any, far: Any
) -> None:
    """As `turn_eight`, but the sum of eight rows each: `rows[low + n]`, the one after it, those so many
    numbers `down` from both, and the same from `rows[high + n]` on; in shares `out[shares + far * m + n]`."""
    for n in range(EIGHT):
        share = [out[shares + far * m + n] for m in range(EIGHT)]
        for k in range(EIGHT):
            a, b = rows[low + n] * wide + k, rows[high + n] * wide + k
            value = share[0] * table[a] + share[1] * table[a + wide]
            value += share[2] * table[a + down] + share[3] * table[a + down + wide]
            value += share[4] * table[b] + share[5] * table[b + wide]
            value += share[6] * table[b + down] + share[7] * table[b + down + wide]
            out[to + far * k + n] = value


@overload(turn_eight, inline="always")
def _turn_eight(table: Any, rows: Any, at: Any, wide: Any, out: Any, to: Any, far: Any) -> Any:
    def compiled(table: Any, rows: Any, at: Any, wide: Any, out: Any, to: Any, far: Any) -> Any:
        return _turning(table, rows, at, wide, out, to, far)  # type: ignore[call-arg]

    return compiled


@overload(turn_four, inline="always")
def _turn_four(table: Any, rows: Any, at: Any, wide: Any, out: Any, to: Any, far: Any) -> Any:
    def compiled(table: Any, rows: Any, at: Any, wide: Any, out: Any, to: Any, far: Any) -> Any:
        return _turning_four(table, rows, at, wide, out, to, far)  # type: ignore[call-arg]

    return compiled


@overload(turn_between, inline="always")
def _turn_between(
    table: Any, rows: Any, at: Any, wide: Any, shares: Any, begin: Any, out: Any, to: Any, far: Any
) -> Any:
    def compiled(
        table: Any, rows: Any, at: Any, wide: Any, shares: Any, begin: Any, out: Any, to: Any, far: Any
    ) -> Any:
        return _turning_between(table, rows, at, wide, shares, begin, out, to, far)  # type: ignore[call-arg]

    return compiled


@overload(mix_eight, inline="always")
def _mix_eight(
    table: Any, rows: Any, low: Any, high: Any, wide: Any, down: Any, out: Any, shares: Any, to: Any, far: Any
) -> Any:
    def compiled(
        table: Any,
        rows: Any,
        low: Any,
        high: Any,
        wide: Any,
        down: Any,
        out: Any,
        shares: Any,
        to: Any,
        far: Any,
    ) -> Any:
        return _mixing(table, rows, low, high, wide, down, out, shares, to, far)  # type: ignore[call-arg]

    return compiled


@intrinsic
def _turning(typing: Any, table: Any, rows: Any, at: Any, wide: Any, out: Any, to: Any, far: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        within = Vectors(context, builder, signature, arguments)
        table, rows, at, wide, out, to, far = within.arguments
        taken = [within.row(table, builder.mul(within.number(rows, at, n), wide)) for n in range(EIGHT)]
        within.put(taken, out, to, far)
        return context.get_dummy_value()

    return types.void(table, rows, at, wide, out, to, far), generate


@intrinsic
def _turning_four(typing: Any, table: Any, rows: Any, at: Any, wide: Any, out: Any, to: Any, far: Any) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        within = Vectors(context, builder, signature, arguments)
        table, rows, at, wide, out, to, far = within.arguments
        taken = []
        for n in range(4):
            here, after = (
                within.row(table, builder.mul(within.number(rows, at, m), wide), 4) for m in (n, n + 4)
            )
            taken.append(within.picked(here, after, list(range(EIGHT))))
        for k, column in enumerate(within.fours(taken)):
            within.store(column, out, to, far, k)
        return context.get_dummy_value()

    return types.void(table, rows, at, wide, out, to, far), generate


@intrinsic
def _turning_between(
    typing: Any,
    table: Any,
    rows: Any,
    at: Any,
    wide: Any,
    shares: Any,
    begin: Any,
    out: Any,
    to: Any,
    far: Any,
) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        within = Vectors(context, builder, signature, arguments)
        table, rows, at, wide, shares, begin, out, to, far = within.arguments
        taken = []
        for n in range(EIGHT):
            here = builder.mul(within.number(rows, at, n), wide)
            one, other = within.row(table, here), within.row(table, builder.add(here, wide))
            share = within.spread(within.one(shares, begin, n))
            taken.append(builder.fadd(one, builder.fmul(builder.fsub(other, one), share)))
        within.put(taken, out, to, far)
        return context.get_dummy_value()

    return types.void(table, rows, at, wide, shares, begin, out, to, far), generate


@intrinsic
def _mixing(
    typing: Any,
    table: Any,
    rows: Any,
    low: Any,
    high: Any,
    wide: Any,
    down: Any,
    out: Any,
    shares: Any,
    to: Any,
    far: Any,
) -> Any:
    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        within = Vectors(context, builder, signature, arguments)
        table, rows, low, high, wide, down, out, shares, to, far = within.arguments
        taken = []
        for n in range(EIGHT):
            parts = []
            for m in range(EIGHT):
                at = builder.mul(within.number(rows, high if m & 4 else low, n), wide)
                at = builder.add(at, down) if m & 2 else at
                at = builder.add(at, wide) if m & 1 else at
                begin = builder.add(shares, builder.mul(far, ir.Constant(far.type, m)))
                share = within.spread(within.one(out, begin, n))
                parts.append(builder.fmul(share, within.row(table, at)))
            value = builder.fadd(parts[0], parts[1])
            for m in range(2, EIGHT, 2):
                value = builder.fadd(value, builder.fadd(parts[m], parts[m + 1]))
            taken.append(value)
        within.put(taken, out, to, far)
        return context.get_dummy_value()

    return types.void(table, rows, low, high, wide, down, out, shares, to, far), generate


class Vectors:
    """What makes the instructions: of arrays among the arguments their first element, of numbers as many bits
    as a place has."""

    def __init__(self, context: Any, builder: Any, signature: Any, arguments: Any) -> None:
        self.builder = builder

        def plain(kind: Any, value: Any) -> Any:
            if isinstance(kind, types.Array):
                return context.make_array(kind)(context, builder, value).data
            return context.cast(builder, value, kind, types.intp)

        self.arguments = list(map(plain, signature.args, arguments))

    def one(self, array: Any, at: Any, n: int) -> Any:
        """A single number of an array."""
        return self.builder.load(self.builder.gep(array, [self.builder.add(at, ir.Constant(at.type, n))]))

    def number(self, array: Any, at: Any, n: int) -> Any:
        """The same, as a place."""
        return self.builder.sext(self.one(array, at, n), ir.IntType(64))

    def row(self, array: Any, at: Any, count: int = EIGHT) -> Any:
        """So many numbers from a place on."""
        return self.builder.load(self._many(array, at, count), align=4)

    def spread(self, value: Any) -> Any:
        """Eight times the same."""
        vector = ir.VectorType(value.type, EIGHT)
        single = self.builder.insert_element(
            ir.Constant(vector, ir.Undefined), value, ir.Constant(ir.IntType(32), 0)
        )
        return self.picked(single, single, [0] * EIGHT)

    def put(self, rows: list[Any], out: Any, to: Any, far: Any) -> None:
        """Turn eight rows into columns."""
        above, below = self.fours(rows[:4]), self.fours(rows[4:])
        for k in range(EIGHT):
            ends = [k // 4 * 4 + j for j in (0, 1, 2, 3, 8, 9, 10, 11)]
            self.store(self.picked(above[k % 4], below[k % 4], ends), out, to, far, k)

    def fours(self, rows: list[Any]) -> list[Any]:
        """Turn either half of four rows into columns, one beside the other."""
        pairs = [self.picked(rows[n], rows[n + 1], half) for n in (0, 2) for half in (LOW, HIGH)]
        return [self.picked(pairs[m], pairs[m + 2], ends) for m in (0, 1) for ends in (FIRST, LAST)]

    def store(self, column: Any, out: Any, to: Any, far: Any, k: int) -> None:
        """Store a vector as column k."""
        step = self.builder.mul(far, ir.Constant(far.type, k))
        self.builder.store(column, self._many(out, self.builder.add(to, step), EIGHT), align=4)

    def picked(self, one: Any, other: Any, places: list[int]) -> Any:
        """Some numbers of two vectors, counted on."""
        mask = ir.Constant(ir.VectorType(ir.IntType(32), len(places)), places)
        return self.builder.shuffle_vector(one, other, mask)

    def _many(self, array: Any, at: Any, count: int) -> Any:
        kind = ir.VectorType(array.type.pointee, count).as_pointer()
        return self.builder.bitcast(self.builder.gep(array, [at]), kind)
