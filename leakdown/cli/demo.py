"""`leakdown demo`: the main job on the bundled scenario."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer

from leakdown.cli import options as o
from leakdown.cli.console import out, say, style_for, width
from leakdown.cli.results import write_text
from leakdown.errors import OutputError

MAKER_LIMIT = "6 kPa in 60 s from 40 kPa"


@dataclass(frozen=True)
class _Scene:
    """One recording of the story and what it is there to show."""

    name: str
    title: str
    limit: str | None = MAKER_LIMIT


STORY = (
    _Scene("1_rig_capped.csv", "The rig alone, its hose capped: does it hold?", None),
    _Scene("2_crankcase_pressure.csv", "The crankcase under pressure, as it came in"),
    _Scene("3_crankcase_vacuum.csv", "The same crankcase under vacuum"),
    _Scene("4_needle_sheet_vacuum.csv", "The vacuum test once more, by hand with a needle gauge"),
    _Scene("5_after_repair_pressure.csv", "After a new seal: pressure"),
    _Scene("6_after_repair_vacuum.csv", "After a new seal: vacuum"),
    _Scene("7_tank_vent_vacuum.csv", "It still dies: the tank's vent, which must let air in", None),
)

RUNS = "8_runs.csv"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("demo", epilog="Example: leakdown demo my-first-look")(demo)


def demo(
    folder: Annotated[Path, typer.Argument(help="Where to write the files.", metavar="DIR")] = Path("leakdown-demo"),
    quiet: o.Quiet = False,
) -> None:
    """Run the main job on a bundled, invented scenario and say which files it wrote."""
    source = _datasets()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        remedy = "Choose another folder: leakdown demo FOLDER."
        raise OutputError(f"cannot make the folder: {error.strerror}", where=str(folder), remedy=remedy) from error
    if not quiet:
        out(
            "An invented story: a small water pump starts, runs half a minute and dies. Fuel, spark and\n"
            f"compression are good. Its maker (invented too) allows {MAKER_LIMIT}, either way.\n"
        )
    written = [path for scene in STORY for path in _play(scene, source, folder, quiet)]
    if not quiet:
        _where(source)
    written += _runs(source, folder, quiet)
    print("\nFiles written:\n" + "\n".join(f"  {path}" for path in written), flush=True)
    say(f'Open {written[7]} in a browser. Next: leakdown analyse YOUR-SHEET.csv --volume "250 cm3"')


def _where(source: Path) -> None:
    """Pressure against vacuum, as `leakdown locate` and `leakdown compare` would say it."""
    from leakdown.reading import read
    from leakdown.where.compare import compare
    from leakdown.where.locate import locate
    from leakdown.words.wrap import wrapped

    pressure, vacuum, repaired = (read(source / STORY[k].name) for k in (1, 2, 5))
    found = locate([pressure, vacuum], seen=["case-dry", "same-setup"], intake="piston-port", seal_lips="in")
    out("Pressure against vacuum, a piston-port engine, dry, lips facing in, one set-up:")
    for line in (found.headline, f"Next: {found.next_test.do}"):
        out("\n".join(wrapped(line, width(), "  ", "  ")))
    out(f"After the new seal, under vacuum: {compare(vacuum, repaired).sentence}")


def _runs(source: Path, folder: Path, quiet: bool) -> list[Path]:
    """The engine run and timed before and after the vent was changed, as `leakdown job runs` would say it."""
    from leakdown.disk import write_whole
    from leakdown.report.runs_picture import runs_picture
    from leakdown.runs.compare import compared
    from leakdown.runs.sheet import read_runs
    from leakdown.words.runs import comparison_lines
    from leakdown.words.runs_told import runs_sentence
    from leakdown.words.wrap import wrapped

    content = (source / RUNS).read_text(encoding="utf-8")
    sheet = read_runs(content.splitlines())
    if not quiet:
        out(f"\nDid the new vent help, or was it luck? ({RUNS}, leakdown job runs)")
        lines = (runs_sentence(sheet.runs, sheet.changes), *comparison_lines(compared(sheet.runs), True))
        out("\n".join(part for line in lines for part in wrapped(line, width(), "  ", "  ")))
    copy, picture = folder / RUNS, folder / f"{Path(RUNS).stem}.png"
    write_text(copy, content)
    write_whole(picture, runs_picture(sheet.runs, sheet.changes, "png"))
    return [copy, picture]


def _play(scene: _Scene, source: Path, folder: Path, quiet: bool) -> list[Path]:
    """Analyse one recording as `leakdown analyse` would, and write its page and picture."""
    from leakdown.judge.analyse import analyse
    from leakdown.judge.settings import Settings
    from leakdown.reading import read
    from leakdown.report.analysis_page import analysis_page
    from leakdown.report.decay_chart import decay_chart
    from leakdown.report.picture import save
    from leakdown.words.terminal import summary

    recording = read(source / scene.name, circuit="crankcase" if "sheet" in scene.name else None)
    result = analyse(recording, Settings(limit=scene.limit))
    if not quiet:
        out(f"{scene.title} ({scene.name})\n{summary(result, width(), style_for(sys.stdout))}\n")
    copy, page, picture = (folder / f"{Path(scene.name).stem}{end}" for end in (".csv", ".html", ".png"))
    write_text(copy, (source / scene.name).read_text(encoding="utf-8"))
    write_text(page, analysis_page(result))
    save(decay_chart(result), picture)
    return [copy, page, picture]


def _datasets() -> Path:
    """The bundled recordings: inside an installed package, beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    for place in (package / "datasets", package.parent / "datasets"):
        if (place / STORY[0].name).is_file():
            return place
    raise OutputError("the bundled recordings are missing", where=str(package), remedy="Install leakdown again.")
