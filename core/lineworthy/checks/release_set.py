# SPDX-License-Identifier: MIT
"""The release folder as a set: is everything in it, whole, once, and of this board?"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePosixPath
from typing import Optional

from lineworthy.finding import Consequence
from lineworthy.intake.folder import ReleaseFolder
from lineworthy.intake.job import JobFile
from lineworthy.intake.plotnames import layer_of
from lineworthy.knowledge.made import MadeLayer
from lineworthy.knowledge.wording import counted, listed, mm
from lineworthy.model import Board, LayerKind
from lineworthy.plans.agreement import NO_FOLDER, Agreement
from lineworthy.registry import Answers, check

PEN_MM = 0.5
"""A pen the outline may be drawn with, where no profile shows it: the editor adds it to the size it states."""

SIZE_MM = 0.05
"""Rounding of a size; it may also include the width of the outline's pen."""

_BUILDING = (LayerKind.COPPER, LayerKind.MASK, LayerKind.OUTLINE)


@check("release/file-unreadable")
def file_unreadable(folder: Optional[ReleaseFolder]) -> Answers:
    """Is there a file in the release folder that should say something and cannot be read?

    Why it matters: a file that does not open here does not open at the factory, or opens there as something else.
    What to do: write the file again and look at it before it is sent.
    Blind spots: drawings and models are not opened. What a plot or drill file holds beyond its format is passed over.
    Source: Gerber layer format and XNC drill format (from memory: Ucamco); common practice for tables, no source.
    """
    if folder is None:
        yield file_unreadable.not_run(*NO_FOLDER)
        return
    for file in folder.unread:
        yield file_unreadable.finding(Consequence.HOLD, f"{file.name} cannot be read: {file.reason}", detail=file.name)
    for placement in folder.placements:
        if placement.unread:
            lines = listed((str(line.line) for line in placement.unread), 8)
            yield file_unreadable.finding(
                Consequence.QUERY,
                f"{placement.name}: {counted(len(placement.unread), 'line')} cannot be read as a placement: {lines}",
                detail=placement.name,
            )
    odd = {plot.name: plot.gerber.remarks for plot in folder.plots if plot.gerber.remarks}
    odd.update({drill.name: drill.remarks for drill in folder.drills if drill.remarks})
    if odd:
        said = listed(f"{name}: {remarks[0]}" for name, remarks in sorted(odd.items()))
        yield file_unreadable.finding(
            Consequence.NOTE, f"not all of {counted(len(odd), 'file')} is as its format has it: {said}", detail="odd"
        )


@check("release/file-truncated")
def file_truncated(folder: Optional[ReleaseFolder]) -> Answers:
    """Does a plot or drill file end before its end?

    Why it matters: copying and mailing cut files off. What is left often still opens, with the last pads, pours or
    holes missing.
    What to do: write the file again, and compare sizes after sending.
    Blind spots: tables and drawings have no mark of their end.
    Source: Gerber layer format, M02 ends every file; XNC, M30 (from memory: Ucamco).
    """
    if folder is None:
        yield file_truncated.not_run(*NO_FOLDER)
        return
    for plot in folder.plots:
        if not plot.gerber.is_complete:
            yield file_truncated.finding(
                Consequence.HOLD,
                f"{plot.name} is cut off: the end of a Gerber file, M02, is not there",
                detail=plot.name,
            )
    for drill in folder.drills:
        if not drill.is_complete:
            end = "M02" if drill.name.casefold().endswith(".gbr") else "M30"
            yield file_truncated.finding(
                Consequence.HOLD,
                f"{drill.name} is cut off: the end of a drill file, {end}, is not there",
                detail=drill.name,
            )


@check("release/file-altered")
def file_altered(folder: Optional[ReleaseFolder]) -> Answers:
    """Does a plot carry a checksum that is not that of its content?

    Why it matters: somebody, or something on its way, changed the file after it was written. What it draws now is not
    what was released.
    What to do: write the file again; if it was edited on purpose, say so and have the result looked at.
    Blind spots: few programs write the checksum; files without one are passed over.
    Source: Gerber layer format, attribute .MD5, 5.6 (as cited).
    """
    if folder is None:
        yield file_altered.not_run(*NO_FOLDER)
        return
    for plot in folder.plots:
        if plot.gerber.is_unaltered is False and plot.gerber.is_complete:
            yield file_altered.finding(
                Consequence.HOLD,
                f"{plot.name} was altered after it was written: its checksum is not that of its content",
                detail=plot.name,
            )


@check("release/file-of-another-board")
def file_of_another_board(agreement: Optional[Agreement]) -> Answers:
    """Is there a file of another project in the release folder?

    Why it matters: a factory that gets two boards in one folder builds one of them, or a mixture.
    What to do: take the file out and write all files again into an empty folder.
    Blind spots: only files that name their project are told apart by it; others show in what they draw.
    Source: Gerber layer format, attribute .ProjectId, 5.6.8 (as cited).
    """
    if agreement is None:
        yield file_of_another_board.not_run(*NO_FOLDER)
        return
    projects: dict[str, list[str]] = {}
    for name, header in agreement.strangers.items():
        projects.setdefault(header.project, []).append(name)
    for project, names in sorted(projects.items()):
        verb = "is" if len(names) == 1 else "are"
        yield file_of_another_board.finding(
            Consequence.HOLD,
            f"{listed(names)} {verb} of project {project!r}, the other files are of {agreement.project!r}",
            detail=project,
        )
    home = agreement.project
    if home and home.casefold() != agreement.board.name.casefold():
        yield file_of_another_board.finding(
            Consequence.QUERY,
            f"the files are of project {home!r}, the board is {agreement.board.name!r}",
            detail=f"all {home}",
        )


@check("release/file-doubled")
def file_doubled(agreement: Optional[Agreement]) -> Answers:
    """Are there two files for one layer?

    Why it matters: somebody must choose, and nobody can ask the file. Often one of them is from the release before.
    What to do: write all files into an empty folder.
    Blind spots: drill files are compared by their holes, not by name.
    Source: common practice, no source.
    """
    if agreement is None:
        yield file_doubled.not_run(*NO_FOLDER)
        return
    doubled = [(layer, plots) for layer, plots in agreement.plots.layers.items() if len(plots) > 1]
    for layer, plots in sorted(doubled, key=lambda item: item[0].title):
        same = {match.plot.name for match in agreement.plots.matches if match.is_same}
        names = [plot.name for plot in plots]
        right = [name for name in names if name in same]
        what = "both are the board's" if len(right) == len(names) else f"only {listed(right)} is the board's"
        message = f"{len(names)} files for {layer.title}: {listed(names)}; {what if right else 'none is the board'}"
        yield file_doubled.finding(Consequence.QUERY, message, detail=layer.title)
    for first, second in _same_drills(agreement):
        yield file_doubled.finding(
            Consequence.QUERY, f"{first} and {second} drill the same holes", detail=f"{first} {second}"
        )


def _same_drills(agreement: Agreement) -> Iterator[tuple[str, str]]:
    seen: dict[object, str] = {}
    for drill in agreement.own_drills:
        holes = frozenset((round(hit.at[0], 2), round(hit.at[1], 2), round(hit.diameter, 2)) for hit in drill.hits)
        if not holes:
            continue
        if (holes, drill.span) in seen:
            yield seen[holes, drill.span], drill.name
        seen[holes, drill.span] = drill.name


@check("release/set-incomplete")
def set_incomplete(agreement: Optional[Agreement]) -> Answers:
    """Is a file missing that this board needs?

    Why it matters: the job waits until the file comes; a missing paste or inner layer is sometimes guessed instead.
    What to do: write the missing file from the same state of the board as the others.
    Blind spots: whether somebody orders bare boards only, and needs neither paste nor placement, cannot be seen; a
    folder without any paste and placement file is taken for such an order.
    Source: Gerber layer format, a fabrication data set has a profile, 5.6.3 (as cited); the rest common practice.
    """
    if agreement is None:
        yield set_incomplete.not_run(*NO_FOLDER)
        return
    lacking = _lacking_layers(agreement)
    bare = _bare_board_order(agreement)
    building = [layer.title for layer in lacking if layer.kind in _BUILDING]
    other = [
        layer.title for layer in lacking if layer.kind not in _BUILDING and not (bare and layer.kind is LayerKind.PASTE)
    ]
    if building:
        yield set_incomplete.finding(
            Consequence.HOLD, f"No file for {listed(building)}", detail="building" + listed(building, 99)
        )
    if other:
        yield set_incomplete.finding(Consequence.QUERY, f"No file for {listed(other)}", detail=listed(other, 99))
    cut = any(file.name.casefold().endswith((".drl", ".xln", ".exc", ".txt")) for file in agreement.folder.unread)
    if agreement.made.drills and not agreement.folder.drills and not cut:
        count = counted(len(agreement.made.drills), "hole")
        yield set_incomplete.finding(Consequence.HOLD, f"No drill file; the board has {count}", detail="drill")
    if not bare and not agreement.folder.placements and not agreement.folder.unread and _to_place(agreement.board):
        count = counted(_to_place(agreement.board), "part")
        yield set_incomplete.finding(
            Consequence.QUERY, f"No placement file; the board has {count} to be placed", detail="placement"
        )


def _lacking_layers(agreement: Agreement) -> list[MadeLayer]:
    there = set(agreement.plots.layers)
    there |= {layer for plot in agreement.folder.plots if (layer := agreement.plots.layer_of(plot)) is not None}
    unread = {PurePosixPath(file.name).name.casefold() for file in agreement.folder.unread}
    listed_in_job = {
        layer
        for job in agreement.folder.jobs
        for path, function in job.files.items()
        if PurePosixPath(path).name.casefold() in unread and (layer := layer_of(function)) is not None
    }
    titles = {layer.title for layer in listed_in_job}  # a file that is there and cannot be read is not missing
    return [layer for layer in agreement.made.layers if layer not in there and layer.title not in titles]


def _bare_board_order(agreement: Agreement) -> bool:
    paste = any(layer.kind is LayerKind.PASTE for layer in agreement.plots.layers)
    return not paste and not agreement.folder.placements and not agreement.folder.parts_lists


def _to_place(board: Board) -> int:
    return sum(part.fitted and part.in_placement and not part.board_only for part in board.parts)


@check("release/job-disagrees")
def job_disagrees(agreement: Optional[Agreement]) -> Answers:
    """Does the job file describe another set of files or another board?

    Why it matters: factories that read job files set up the job from it: layer count, thickness, which file is what.
    What to do: write the job file together with the plots.
    Blind spots: design rules and materials in the job file are not compared.
    Source: Gerber job format (from memory: Ucamco). That size, count and thickness must agree is common practice, no
    source.
    """
    if agreement is None:
        yield job_disagrees.not_run(*NO_FOLDER)
        return
    for job in agreement.folder.jobs:
        if job.name in agreement.strangers:
            continue
        for detail, text in _disagreements(agreement, job):
            yield job_disagrees.finding(Consequence.QUERY, f"{job.name}: {text}", detail=f"{job.name} {detail}")


def _disagreements(agreement: Agreement, job: JobFile) -> Iterator[tuple[str, str]]:
    board = agreement.board
    if job.layers is not None and job.layers != len(board.copper_layers):
        yield "layers", f"says {counted(job.layers, 'copper layer')}, the board has {len(board.copper_layers)}"
    outline = board.outline.area
    if job.size is not None and not outline.is_empty:
        left, bottom, right, top = outline.bounds
        size = right - left, top - bottom
        over = [said - real for said, real in zip(job.size, size)]
        if min(over) < -SIZE_MM or max(over) > _pen(agreement) + SIZE_MM:
            said, real = (" x ".join(mm(value) for value in pair) for pair in (job.size, size))
            yield "size", f"says the board measures {said} mm, it measures {real} mm"
    if job.thickness is not None and abs(job.thickness - board.stackup.thickness) > 0.01:
        yield "thickness", f"says {mm(job.thickness)} mm thick, the board is {mm(board.stackup.thickness)} mm"
    there = {PurePosixPath(name).name.casefold() for name in agreement.folder.file_names}
    shown = {layer.title for layer in agreement.plots.layers}
    renamed = [
        path
        for path, function in job.files.items()
        if PurePosixPath(path).name.casefold() not in there
        and (layer := layer_of(function)) is not None
        and layer.title in shown
    ]
    if renamed:
        yield "files", f"lists {listed(renamed)}, which the folder holds under {_other(len(renamed))}"
    functions = {PurePosixPath(path).name.casefold(): layer_of(function) for path, function in job.files.items()}
    for plot in agreement.own_plots:
        said_layer = functions.get(PurePosixPath(plot.name).name.casefold())
        if (
            said_layer is not None
            and plot.layer is not None
            and said_layer.title != plot.layer.title
            and not plot.by_name
        ):
            yield plot.name, f"says {plot.name} is {said_layer.title}, the file itself says {plot.layer.title}"


def _pen(agreement: Agreement) -> float:
    """The widest pen the outline is drawn with, mm."""
    profiles = [plot for plot in agreement.own_plots if plot.layer is not None and plot.layer.kind is LayerKind.OUTLINE]
    return max((drawn.diameter for plot in profiles for drawn in plot.gerber.drawn), default=PEN_MM)


def _other(count: int) -> str:
    return "another name" if count == 1 else "other names"


CHECKS = (
    file_unreadable,
    file_truncated,
    file_altered,
    file_of_another_board,
    file_doubled,
    set_incomplete,
    job_disagrees,
)
