# SPDX-License-Identifier: MIT
"""What the plots of a release draw: is every layer this board's, in its place, the right way round?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Optional

import shapely

from lineworthy.finding import Consequence, Place, centre
from lineworthy.knowledge.naming import quoted
from lineworthy.knowledge.wording import counted, listed, mm
from lineworthy.model import LayerKind, Side
from lineworthy.plans.agreement import NO_FOLDER, Agreement
from lineworthy.plans.lettering import Misprint
from lineworthy.plans.plot_match import PlotMatch
from lineworthy.registry import Answers, check

TOGETHER = 3
"""More layers than this that differ are one finding: the folder is of another state of the board."""


@check("release/layer-differs")
def layer_differs(agreement: Optional[Agreement]) -> Answers:
    """Does a plot show other copper, openings, paste, ink or edges than the board has?

    Why it matters: the factory makes what the plots show. This is the one comparison that would have caught the files
    from before the last change.
    What to do: look at the places, then write all files again from the saved board, with all pours filled.
    Blind spots: lettering is compared here only in that there is ink nowhere but where the board has text; ink within
    0.2 mm of a mask opening is not compared, as it may be clipped. Edges may lie 0.02 mm off.
    Source: the board itself.
    """
    if agreement is None:
        yield layer_differs.not_run(*NO_FOLDER)
        return
    wrong = [match for match in _distinct(agreement) if match.move is None and match.shows is None]
    if len(wrong) > TOGETHER:
        count = len({match.layer for match in agreement.plots.matches})
        yield layer_differs.finding(
            Consequence.HOLD,
            f"{len(wrong)} of {count} layers differ from the board as it is: "
            + "; ".join(f"{match.layer.title} {_amounts(match)}" for match in wrong[:TOGETHER])
            + f" and {len(wrong) - TOGETHER} more",
            places=[place for match in wrong for place in _places(match)[:3]],
            measured=round(sum(m.difference.missing_area + m.difference.extra_area for m in wrong), 4),
            unit="mm2",
            detail="many",
        )
        return
    for match in wrong:
        header = agreement.folder.headers[match.plot.name]
        when = f", made {header.when:%Y-%m-%d}" if header.when is not None and _is_odd(agreement, match) else ""
        yield layer_differs.finding(
            Consequence.HOLD,
            f"{match.plot.name}{when}: {match.layer.title} {_amounts(match)}",
            places=_places(match),
            measured=round(match.difference.missing_area + match.difference.extra_area, 4),
            unit="mm2",
            detail=match.layer.title,
        )


def _distinct(agreement: Agreement) -> Iterator[PlotMatch]:
    """Plots that are not their layer, leaving out second files for a layer that the right file is there for, too."""
    right = {match.layer for match in agreement.plots.matches if match.is_same}
    return (match for match in agreement.plots.matches if not match.is_same and match.layer not in right)


def _is_odd(agreement: Agreement, match: PlotMatch) -> bool:
    """Whether a file was made on another day than most."""
    own = agreement.folder.headers[match.plot.name].when
    days = [header.when.date() for header in agreement.folder.headers.values() if header.when is not None]
    return own is not None and days.count(own.date()) * 2 < len(days)


def _amounts(match: PlotMatch) -> str:
    found = match.difference
    word = "area" if match.layer.kind is LayerKind.OUTLINE else _MATTER[match.layer.kind]
    parts = []
    if found.missing:
        parts.append(f"lacks {_square(found.missing_area)} of {word} in {counted(len(found.missing), 'place')}")
    if found.extra:
        parts.append(f"has {_square(found.extra_area)} of {word} too much in {counted(len(found.extra), 'place')}")
    return " and ".join(parts)


_MATTER = {
    LayerKind.COPPER: "copper",
    LayerKind.MASK: "opening",
    LayerKind.PASTE: "paste",
    LayerKind.LEGEND: "ink",
}


def _square(area: float) -> str:
    return f"{area:.2f} mm2" if area >= 0.01 else f"{area:.4f} mm2"


def _places(match: PlotMatch) -> list[Place]:
    side = match.layer.side
    return [
        Place(centre(shape), side, f"{match.layer.title}: {'missing' if lacks else 'too much'}, {_square(shape.area)}")
        for shape, lacks in match.difference.spots
    ]


@check("release/layer-displaced")
def layer_displaced(agreement: Optional[Agreement]) -> Answers:
    """Is a plot its layer, but moved, mirrored, turned, or in another unit?

    Why it matters: a mirrored or moved layer makes boards that are all scrap, and it looks right on its own.
    What to do: write the layer again without mirroring, from the same origin and in the same unit as the others.
    Blind spots: a layer that looks the same mirrored is taken as it is. All files moved together are no fault.
    Source: the board itself; Gerber layer format: all layers are seen from the top (from memory: Ucamco).
    """
    if agreement is None:
        yield layer_displaced.not_run(*NO_FOLDER)
        return
    moved: dict[str, list[PlotMatch]] = {}
    for match in _distinct(agreement):
        if match.move is not None:
            moved.setdefault(_how(match), []).append(match)
    for how, matches in sorted(moved.items()):
        names = listed(f"{match.plot.name} ({match.layer.title})" for match in matches)
        verb = "is" if len(matches) == 1 else "are"
        side = matches[0].layer.side
        yield layer_displaced.finding(
            Consequence.HOLD,
            f"{names} {verb} {how}",
            places=_board_middle(agreement, side),
            detail=how + listed((match.layer.title for match in matches), 99),
        )


def _how(match: PlotMatch) -> str:
    assert match.move is not None
    if match.move.name != "moved":
        return match.move.name
    x, y = -match.move.offset[0], -match.move.offset[1]
    return f"moved by {mm(x)}, {mm(y)} mm against the others"


def _board_middle(agreement: Agreement, side: Optional[Side]) -> Sequence[Place]:
    area = agreement.board.outline.area
    if area.is_empty:
        return ()
    middle = shapely.centroid(shapely.box(*area.bounds))
    return [Place((middle.x, middle.y), side, "the layer as a whole")]


@check("release/layers-exchanged")
def layers_exchanged(agreement: Optional[Agreement]) -> Answers:
    """Does a plot show another layer than it says?

    Why it matters: exchanged inner layers pass every electrical test and change impedance and heat; exchanged outer
    ones make scrap.
    What to do: write the files again and let the program name them.
    Blind spots: layers that look alike cannot be told apart.
    Source: the board itself; Gerber layer format, attribute .FileFunction, 5.6.3 (as cited).
    """
    if agreement is None:
        yield layers_exchanged.not_run(*NO_FOLDER)
        return
    shows = {match.layer: match for match in _distinct(agreement) if match.shows is not None}
    done = set()
    for layer, match in shows.items():
        other = match.shows
        assert other is not None
        if layer in done:
            continue
        back = shows.get(other)
        if back is not None and back.shows == layer:
            done.add(other)
            text = f"{layer.title} and {other.title} are exchanged: {match.plot.name} and {back.plot.name}"
        else:
            text = f"{match.plot.name} says it is {layer.title} and shows {other.title}"
        yield layers_exchanged.finding(
            Consequence.HOLD, text, places=_board_middle(agreement, layer.side), detail=layer.title
        )


@check("release/lettering-missing")
def lettering_missing(agreement: Optional[Agreement]) -> Answers:
    """Is there no ink, copper or opening where the board has lettering on a layer that is plotted?

    Why it matters: names, revision and polarity marks do not get printed when texts are left out of the plot.
    What to do: write the legend with references and other texts, or take them off the layer if they are not wanted.
    Blind spots: whether the letters are the right ones is another question. Texts over mask openings may be clipped.
    Source: the board itself.
    """
    if agreement is None:
        yield lettering_missing.not_run(*NO_FOLDER)
        return
    for match in agreement.plots.matches:
        if not match.is_same:
            continue
        lost = agreement.plots.texts_lost(match)
        if lost:
            yield lettering_missing.finding(
                Consequence.QUERY,
                f"{match.plot.name}: {counted(len(lost), 'text')} of {match.layer.title} not there: "
                + listed(text.text.replace("\n", " ")[:30] for text in lost),
                items=lost,
                places=[Place(text.at, match.layer.side, text.text[:30]) for text in lost[:12]],
                detail=match.layer.title,
            )


@check("release/lettering-differs")
def lettering_differs(agreement: Optional[Agreement]) -> Answers:
    """Do the plots print other texts than the board has: another revision, another reference?

    Why it matters: a board of revision B that says A is built, tested and mended as A ever after. It is the one change
    between two plots that no electrical test finds.
    What to do: write the files again from the saved board.
    Blind spots: characters are told by how most texts of the same release draw them; one that fewer than two other
    texts have is known only where it looks like another. Only texts drawn with a pen and free of other texts and
    drawings are read; outline fonts and texts with variables are not. Capital and small letters of one form look alike.
    Source: the board itself.
    """
    if agreement is None:
        yield lettering_differs.not_run(*NO_FOLDER)
        return
    by_plot: dict[PlotMatch, list[Misprint]] = {}
    for misprint in agreement.letterings.misprints:
        by_plot.setdefault(misprint.match, []).append(misprint)
    for match, misprints in by_plot.items():
        texts = [misprint.marking for misprint in misprints]
        told = "; ".join(f"{quoted(m.marking.text)}: {m.how}" for m in misprints[:TOGETHER])
        more = f"; and {len(texts) - TOGETHER} more" if len(texts) > TOGETHER else ""
        yield lettering_differs.finding(
            Consequence.QUERY,
            f"{match.plot.name}: {counted(len(texts), 'text')} of {match.layer.title} not the board's: {told}{more}",
            items=texts,
            places=[Place(text.at, match.layer.side, quoted(text.text)) for text in texts[:12]],
            detail=match.layer.title,
        )


CHECKS = (layer_differs, layer_displaced, layers_exchanged, lettering_missing, lettering_differs)
