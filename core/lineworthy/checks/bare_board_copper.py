# SPDX-License-Identifier: MIT
"""Etching the bare board: tracks and gaps that the process can hold."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from lineworthy.finding import Consequence, Place
from lineworthy.geometry import falls_short
from lineworthy.knowledge.gaps import Gap, Layer, Owner, called, gaps_below, net_of, part_uid_of, swallowed
from lineworthy.knowledge.wording import counted, listed, mm
from lineworthy.model import Board, Track
from lineworthy.registry import Answers, check
from lineworthy.sheet import Sheet

OUTER_TRACK, INNER_TRACK = "bare-board.track_outer_min_mm", "bare-board.track_inner_min_mm"
OUTER_GAP, INNER_GAP = "bare-board.gap_outer_min_mm", "bare-board.gap_inner_min_mm"

SHOWN = 40
"""Places of one finding on the map; more of the same kind help nobody."""


@check("bare-board/track-too-thin", limits=(OUTER_TRACK, INNER_TRACK))
def track_too_thin(board: Board, sheet: Sheet) -> Answers:
    """Are tracks narrower than the process etches without breaks?

    Why it matters: etching takes copper from the sides as well. A track below the process's width is thinner than
    drawn, or gone in places; the factory asks, or moves the order to a dearer process.
    What to do: widen the tracks, at least outside of the fine-pitch parts that need them; or order from a factory whose
    sheet says it can, and review with that sheet.
    Blind spots: copper drawn as polygons and the necks of pours are not measured here. The copper weight is not known
    to this check: thick copper wants wider tracks.
    Source: common practice: 0.15 mm is the standard step of prices, 0.10 mm the next; 5 mil, which
    boards drawn in mm have as 0.125 mm, is widely taken as standard today.
    """
    for keys, outer in ((OUTER_TRACK, True), (INNER_TRACK, False)):
        need = float(sheet.value(keys))
        names = {name for name in board.copper_layers if (board.side_of(name) is not None) is outer}
        thin = [track for track in board.tracks if track.layer in names and falls_short(track.width, need)]
        if thin:
            thin.sort(key=lambda track: (round(track.width, 6), track.net, track.layer, track.uid))
            widths = _tallied([track.width for track in thin])
            yield track_too_thin.finding(
                Consequence.QUERY,
                f"{counted(len(thin), 'track')} on {listed(track.layer for track in thin)}: {widths};"
                f" {mm(need)} mm needed on {'outer' if outer else 'inner'} layers",
                items=thin,
                places=[
                    Place(_middle(track), board.side_of(track.layer), f"track {track.net}, {mm(track.width)} mm")
                    for track in thin[:SHOWN]
                ],
                measured=thin[0].width,
                limit=need,
                limit_key=keys,
                detail="outer" if outer else "inner",
            )


def _middle(track: Track) -> tuple[float, float]:
    if track.mid is not None:
        return track.mid
    return ((track.start[0] + track.end[0]) / 2, (track.start[1] + track.end[1]) / 2)


def _tallied(widths: Sequence[float]) -> str:
    """``0.10 mm wide (12), 0.12 mm (3)``, narrowest first."""
    counts: dict[str, int] = defaultdict(int)
    for width in sorted(round(width, 6) for width in widths):
        counts[mm(width)] += 1
    told = [f"{width} mm ({count})" for width, count in list(counts.items())[:4]]
    more = f" and {len(counts) - 4} more widths" if len(counts) > 4 else ""
    return "width " + ", ".join(told) + more


@check("bare-board/gap-too-small", limits=(OUTER_GAP, INNER_GAP))
def gap_too_small(board: Board, sheet: Sheet, copper: Sequence[Layer]) -> Answers:
    """Is copper of different nets nearer together than the process etches apart?

    Why it matters: what is not etched away between two nets is a short. Below the process's gap the bare-board test
    throws boards out, or the factory asks before it starts.
    What to do: move the copper apart; in the editor, set the clearance of the board rules to the factory's limit, run
    its rule check, and fill the pours again.
    Blind spots: measured between copper of different nets on one layer, lands and drawings of one part excepted where
    they touch, because parts join nets on purpose; copper without a net is of the nets that it touches. How near
    letters in copper come to other copper is not seen here: the editor's rule check sees it. What letters and drawings
    join is told in bare-board/artwork-joins-nets. Safety distances are another matter: see the cautions.
    Source: common practice: 0.15 mm is the standard step of prices, 0.10 mm the next; 5 mil, which
    boards drawn in mm have as 0.125 mm, is widely taken as standard today.
    """
    found: dict[bool, list[Gap]] = {True: [], False: []}
    for layer in copper:
        outer = board.side_of(layer.name) is not None
        need = float(sheet.value(OUTER_GAP if outer else INNER_GAP))
        below = gaps_below(layer, need)
        touching = {frozenset((gap.one, gap.other)) for gap in below if gap.width <= 0.0}
        below += [gap for gap in swallowed(layer) if frozenset((gap.one, gap.other)) not in touching]
        joined = _joined(below)
        found[outer] += _once([gap for gap in below if not _meant(board, gap, joined)])
    for outer, gaps in found.items():
        short = [gap for gap in gaps if gap.width <= 0.0]
        near = [gap for gap in gaps if gap.width > 0.0]
        key = OUTER_GAP if outer else INNER_GAP
        need = float(sheet.value(key))
        where = "outer" if outer else "inner"
        for told, some in (("touches", short), ("near", near)):
            if not some:
                continue
            worst = min(some, key=lambda gap: (round(gap.width, 6), gap.layer, gap.at))
            pairs = {frozenset((net_of(gap.one), net_of(gap.other))) for gap in some}
            names = " and ".join(sorted(net_of(owner) or "copper without a net" for owner in (worst.one, worst.other)))
            more = f", and {counted(len(pairs) - 1, 'more pair')} of nets" if len(pairs) > 1 else ""
            layers_named = listed(gap.layer for gap in some)
            message = f"Copper of {names} touches on {layers_named}{more}"
            if told == "near":
                message = f"{counted(len(some), 'gap')} on {layers_named} down to {mm(worst.width)} mm, between {names}"
                message += f"{more}; {mm(need)} mm needed on {where} layers"
            yield gap_too_small.finding(
                # a short is no matter of the process: the bare-board test against the netlist stops the job
                Consequence.HOLD if told == "touches" else Consequence.QUERY,
                message,
                items=list(dict.fromkeys(owner for gap in some for owner in (gap.one, gap.other))),
                places=_places(board, some),
                measured=worst.width,
                limit=need,
                limit_key=key,
                detail=f"{where} {told}",
            )


def _once(gaps: Sequence[Gap]) -> list[Gap]:
    """Each place of two pieces of copper once: where two stretches of a pour's outline meet, both are as near."""
    single: dict[object, Gap] = {}
    for gap in gaps:
        x, y = (round(c, 4) for c in gap.at)
        single.setdefault((frozenset((gap.one, gap.other)), x, y), gap)
    return list(single.values())


def _joined(gaps: Sequence[Gap]) -> dict[Owner, set[str]]:
    """The nets that copper without a net touches: the bar of a solder jumper is of both of them."""
    joined: dict[Owner, set[str]] = defaultdict(set)
    for gap in gaps:
        for one, other in ((gap.one, gap.other), (gap.other, gap.one)):
            if gap.width <= 0.0 and not net_of(one):
                joined[one].add(net_of(other))
    return joined


def _meant(board: Board, gap: Gap, joined: Mapping[Owner, set[str]]) -> bool:
    """Whether nobody minds: lettering in copper, parts that join nets, and what leads nowhere and touches."""
    nets = (net_of(gap.one), net_of(gap.other))
    if nets == ("", ""):
        return True
    if gap.width > 0.0:
        return nets[1] in joined.get(gap.one, ()) or nets[0] in joined.get(gap.other, ())
    owners = [part_uid_of(owner) for owner in (gap.one, gap.other)]
    same_part = owners[0] != "" and owners[0] == owners[1]
    return same_part or any(len(board.pads_by_net.get(net, ())) < 2 for net in nets)


def _places(board: Board, gaps: Sequence[Gap]) -> list[Place]:
    """Where gaps are, each spot once: two tracks of a net that meet there are as near to what is beside them."""
    places: dict[object, Place] = {}
    for gap in gaps:
        x, y = (round(c, 4) for c in gap.at)
        places.setdefault((x, y, gap.layer, _label(gap)), Place(gap.at, board.side_of(gap.layer), _label(gap)))
    return list(places.values())[:SHOWN]


def _label(gap: Gap) -> str:
    return f"{called(gap.one)} to {called(gap.other)}, {mm(gap.width)} mm"


CHECKS = (track_too_thin, gap_too_small)
