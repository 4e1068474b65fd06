"""Two tests one below the other in one sheet: told apart, and one of them picked by its direction."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from leakdown.errors import InputError
from leakdown.recording import Doubt, Recording
from leakdown.sheets.assemble import recording_of
from leakdown.sheets.grid import Grid, Row, is_rule, shown
from leakdown.sheets.headings import heading, heading_pressure_unit
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.preamble import loose_pairs, row_pairs
from leakdown.sheets.time_cells import Moment, moment
from leakdown.vocabulary import PRESSURE, VACUUM, plain, words_of

_TEST = re.compile(r"test|prufung|versuch|messung|essai|prueba|prova|proef|hold\b|run\b|phase")


@dataclass(frozen=True)
class Block:
    """The lines of one test: titles and headings, then its rows."""

    head: list[Row]
    rows: list[Row]

    @property
    def lines(self) -> str:
        """Where it stands, for messages."""
        return f"lines {self.rows[0].line} to {self.rows[-1].line}"


def one_test(grid: Grid, options: ReadingOptions) -> Recording:
    """The Recording of the one test in `grid`, or of the one that the direction picks. Raises InputError."""
    blocks = _blocks(grid)
    if len(blocks) < 2:
        return recording_of(grid, options)
    grids = [_grid(grid, blocks, k) for k in range(len(blocks))]
    return picked([(b.lines, g) for b, g in zip(blocks, grids, strict=True)], options, blocks[1].rows[0].line)


def picked(tests: list[tuple[str, Grid]], options: ReadingOptions, line: int | None = None) -> Recording:
    """The one of several tests (place, grid) that `options` picks. Raises InputError."""
    ways = [_way(grid, options) for _, grid in tests]
    fitting = [k for k, way in enumerate(ways) if way == options.direction and options.direction]
    if options.test is not None:
        fitting = [options.test - 1] if options.test <= len(tests) else []
    places = [f"{place} ({way or 'direction not said'})" for (place, _), way in zip(tests, ways, strict=True)]
    if len(fitting) != 1:
        raise tests[0][1].refuse(
            f"{len(tests)} tests in one sheet: {', '.join(places)}",
            line,
            "Give --test 1, --test 2..., or --direction pressure or --direction vacuum, or save each test as "
            "a file of its own.",
        )
    recording = recording_of(tests[fitting[0]][1], replace(options, test=None))
    others = "; ".join(place for k, place in enumerate(places) if k != fitting[0])
    remark = f"read the {recording.direction} test in {tests[fitting[0]][0]}; left out: {others}"
    return recording.with_said([Doubt("second-test", remark)])


def _way(grid: Grid, options: ReadingOptions) -> str | None:
    try:
        return recording_of(grid, replace(options, direction=None, test=None)).direction
    except InputError:
        return None


def _blocks(grid: Grid) -> list[Block]:
    """Runs of rows with the lines above each; runs without a title of their own belong to the one before."""
    merged = sorted([*grid.rows, *(Row(line, [text]) for line, text in grid.comments)], key=lambda row: row.line)
    blocks: list[Block] = []
    head: list[Row] = []
    for row in merged:
        if is_rule(row) or row.values() < 2:
            head.append(row)
            continue
        if head or not blocks:
            last = blocks[-1] if blocks else None
            if last is None or _begins_a_test(head, row, last, blocks[0]):
                blocks.append(Block(head, []))
            head = []
        blocks[-1].rows.append(row)
    whole = [block for block in blocks if len(block.rows) >= 2]
    return whole if len(whole) == len(blocks) else []


def _begins_a_test(head: list[Row], first: Row, last: Block, top: Block) -> bool:
    """Whether the lines above a row open another test: they name its way or unit, and it starts anew."""
    texts = [plain(row.text()) for row in head]
    known = {word for text in texts for word in words_of(text)}
    told = known & (VACUUM | PRESSURE) or any(heading_pressure_unit(row.text()) for row in head)
    if not told or {plain(row.text()) for row in top.head} >= set(texts):
        return False
    return _goes_back(last.rows[-1], first) or any(_TEST.search(text) for text in texts if len(text) < 60)


def _goes_back(before: Row, now: Row) -> bool:
    one, two = (_seconds(moment(row.cell(0))) for row in (before, now))
    return one is not None and two is not None and two < one


def _seconds(found: Moment | None) -> float | None:
    return found and (found.number.value(".") if found.number is not None else found.seconds)


def _grid(grid: Grid, blocks: list[Block], index: int) -> Grid:
    """One block as a grid of its own, with the head's keys and, where it has none, the first headings."""
    block, top = blocks[index], blocks[0]
    head = [row for row in block.head if not _is_comment(grid, row)]
    if index:
        keyed = [row for row in top.head if row_pairs(map(shown, row.cells)) or loose_pairs(row.text())]
        head = [row for row in keyed if not _is_comment(grid, row)] + head
    if not any(_is_heading(row) for row in head):
        head = _with_headings(head, block, top)
    lines = {row.line for row in [*block.head, *(top.head if index else [])]}
    comments = [(line, text) for line, text in grid.comments if line in lines and (line, text)]
    if index:
        own = {row.line for row in block.head}
        comments = [c for c in comments if c[0] in own or row_pairs([c[1]]) or loose_pairs(c[1])]
    return replace(grid, rows=head + block.rows, comments=comments)


def _is_comment(grid: Grid, row: Row) -> bool:
    return any(line == row.line for line, _ in grid.comments)


def _is_heading(row: Row) -> bool:
    roles = {heading(shown(cell)).role for cell in row.cells if cell != ""}
    return len(row.filled()) > 1 and "pressure" in roles and bool(roles & {"time", "date"})


def _with_headings(head: list[Row], block: Block, top: Block) -> list[Row]:
    """A title that names the unit becomes the heading of two columns; else the first headings serve again."""
    for k, row in enumerate(head):
        text = row.text()
        if not row_pairs([text]) and heading_pressure_unit(text) and len(block.rows[0].cells) == 2:
            return [*head[:k], *head[k + 1 :], Row(row.line, ["time", text])]
    return head + [row for row in top.head if _is_heading(row)][:1]
