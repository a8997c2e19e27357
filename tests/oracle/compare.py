# SPDX-License-Identifier: MIT
"""Compares a board as read with what the editor says about it, category by category."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable
from typing import Any, Callable

import numpy as np
import shapely
from compare_pads import holes, mask_openings, pad_copper, pads, paste_openings
from editor import Facts, area, mm, ring
from mismatch import (
    ARC_LENGTH_MM,
    CHORD_MM,
    COURTYARD_CHORD_MM,
    COURTYARD_SHAVED_MM,
    EXACT_MM,
    SHAPE_MM2,
    SHAPE_SHARE,
    TEXT_MM,
    TEXT_SHARE,
    Found,
    Mismatch,
    Triple,
    absent,
    apart,
    matched,
    same_place,
    same_point,
    shape_mismatches,
    turned,
    unequal,
)
from shapely.geometry.base import BaseGeometry

from lineworthy.knowledge.copper import landed
from lineworthy.model import Board, MarkingRole, Side

EDGE = "Edge.Cuts"
_MARKUP = re.compile(r"[~^_]\{([^{}]*)\}")


def compare(board: Board, facts: Facts) -> dict[str, list[Mismatch]]:
    """All mismatches by category, worst first."""
    return {name: sorted(look(board, facts), key=lambda m: (-m.size, m.item, m.what)) for name, look in LOOKS.items()}


def counts(board: Board, facts: Facts) -> Found:
    """How many of each there are."""
    pours = [zone for zone in facts["zones"] if not zone["rule_area"]]
    expected = {
        "copper layers": len(facts["copper_layers"]),
        "nets": len(facts["nets"]),
        "parts": len(facts["parts"]),
        "pads": sum(len(part["pads"]) for part in facts["parts"]),
        "holes": sum(pad["hole"] is not None for part in facts["parts"] for pad in part["pads"]),
        "straight tracks": sum(track["mid"] is None for track in facts["tracks"]),
        "arcs": sum(track["mid"] is not None for track in facts["tracks"]),
        "vias": len(facts["vias"]),
        "areas": sum(layer in facts["copper_layers"] for zone in pours for layer in zone["layers"]),
        "keep-outs": len(facts["zones"]) - len(pours),
        "markings": len(_texts(facts)),
        "graphics": len(_artwork(facts)),
    }
    found = {
        "copper layers": len(board.copper_layers),
        "nets": len(board.nets),
        "parts": len(board.parts),
        "pads": len(board.pads),
        "holes": len(board.holes),
        "straight tracks": sum(track.mid is None for track in board.tracks),
        "arcs": sum(track.mid is not None for track in board.tracks),
        "vias": len(board.vias),
        "areas": len(board.areas),
        "keep-outs": len(board.keepouts),
        "markings": len(board.markings),
        "graphics": len(board.graphics),
    }
    for name, count in expected.items():
        if found[name] != count:
            yield Mismatch(name, "count", str(count), str(found[name]))
    yield from absent("part", facts["parts"], board.parts)
    yield from absent("track", facts["tracks"], board.tracks)
    yield from absent("via", facts["vias"], board.vias)
    yield from absent("text", _texts(facts), board.markings)
    yield from absent("graphic", _artwork(facts), board.graphics)
    yield from absent("keep-out", [zone for zone in facts["zones"] if zone["rule_area"]], board.keepouts)
    for label, theirs, ours in matched(facts["parts"], board.parts, lambda part: part.reference):
        found_pads = sorted((pad.number, pad.kind.value) for pad in ours.pads)
        yield from unequal(label, "pads", sorted((pad["number"], pad["kind"]) for pad in theirs["pads"]), found_pads)


def document(board: Board, facts: Facts) -> Found:
    """Nets, layers, title block, thickness."""
    yield from unequal("board", "copper layers", facts["copper_layers"], list(board.copper_layers))
    for name in sorted(set(facts["nets"]) ^ set(board.nets)):
        yield Mismatch(name, "net", str(name in facts["nets"]), str(name in board.nets))
    for key in ("title", "revision", "date", "company"):
        yield from unequal("title block", key, facts["title"][key], getattr(board.title, key))
    yield from unequal(
        "title block", "comments", _stripped(facts["title"]["comments"]), _stripped(board.title.comments)
    )
    yield from apart("board", "thickness", mm(facts["thickness"]), board.stackup.thickness)


def parts(board: Board, facts: Facts) -> Found:
    """Attributes, fields, side, place and rotation of every part."""
    for label, theirs, ours in matched(facts["parts"], board.parts, lambda part: part.reference):
        yield from same_place(label, theirs, ours)
        expected = {key: theirs[key] for key in ("reference", "value", "package", "library", "description", "fitted")}
        expected.update({key: theirs[key] for key in ("in_parts_list", "in_placement", "board_only")})
        for key, value in expected.items():
            yield from unequal(label, key, value, getattr(ours, key))
        yield from unequal(label, "side", theirs["side"], ours.side.value)
        yield from unequal(label, "mount", theirs["mount"], ours.mount.value)
        yield from unequal(label, "models", theirs["models"], [model.path for model in ours.models])
        fields = {name: text for name, text in theirs["fields"].items() if name not in ("Reference", "Value")}
        for name in sorted(set(fields) | set(ours.fields)):
            yield from unequal(label, f"field {name}", fields.get(name), ours.fields.get(name))


def courtyards(board: Board, facts: Facts) -> Found:
    """Areas to be kept clear around parts.

    The editor has no courtyard at all where anything on that layer does not close (an origin cross drawn there, say);
    we keep the loops that do. Those must then follow what is drawn.
    """
    straight: list[Triple] = []
    curved: list[Triple] = []
    drawn_on = defaultdict(list)
    for shape in facts["shapes"]:
        drawn_on[shape["part"], shape["layer"]].append(shape)
    for label, theirs, ours in matched(facts["parts"], board.parts, lambda part: part.reference):
        for side, layer in zip(Side, ("F.CrtYd", "B.CrtYd")):
            shaved = COURTYARD_SHAVED_MM if facts["courtyards_shaved"] else 0.0
            expected = area(theirs["courtyard"][side.value]).buffer(shaved, join_style="mitre")
            found = ours.courtyard.get(side, shapely.Polygon())
            drawn = drawn_on[theirs["uid"], layer]
            if expected.is_empty and not found.is_empty:
                lines = shapely.union_all([area(shape["area"]) for shape in drawn]).buffer(CHORD_MM)
                if not lines.covers(found.boundary):
                    yield Mismatch(
                        f"{label} courtyard {side.value}", "edge", "drawn elsewhere", f"{found.area:.4f} mm²"
                    )
                continue
            kind = curved if any(shape["curved"] for shape in drawn) else straight
            kind.append((f"{label} courtyard {side.value}", expected, found))
    yield from shape_mismatches(straight)
    yield from shape_mismatches(curved, along_edge=COURTYARD_CHORD_MM)


def tracks(board: Board, facts: Facts) -> Found:
    """Ends, width, length, layer and net of every track and arc."""
    for label, theirs, ours in matched(facts["tracks"], board.tracks, lambda track: f"track on {track.layer}"):
        for key in ("layer", "net", "mask_opened"):
            yield from unequal(label, key, theirs[key], getattr(ours, key))
        for key in ("start", "end"):
            yield from same_point(label, key, theirs[key], getattr(ours, key))
        yield from unequal(label, "is an arc", theirs["mid"] is not None, ours.mid is not None)
        yield from apart(label, "width", mm(theirs["width"]), ours.width)
        tolerance = EXACT_MM if ours.mid is None else ARC_LENGTH_MM
        yield from apart(label, "length", mm(theirs["length"]), ours.length, tolerance)


def vias(board: Board, facts: Facts) -> Found:
    """Place, drill, diameter per layer, span, net and mask cover of every via."""
    for label, theirs, ours in matched(facts["vias"], board.vias, lambda via: f"via of {via.net}"):
        yield from same_point(label, "place", theirs["at"], ours.at)
        yield from apart(label, "drill", mm(theirs["drill"]), ours.drill)
        for layer, diameter in theirs["diameters"].items():
            yield from apart(label, f"diameter on {layer}", mm(diameter), ours.diameter_on(layer))
        if "lands" in theirs:
            yield from unequal(label, "lands", sorted(theirs["lands"]), sorted(landed(board, ours)))
        yield from unequal(label, "span", theirs["span"], list(ours.span))
        yield from unequal(label, "net", theirs["net"], ours.net)
        yield from unequal(label, "tented", sorted(theirs["tented"]), sorted(side.value for side in ours.tented))


def fills(board: Board, facts: Facts) -> Found:
    """Boundary, net, priority and filled copper of every pour on every layer."""
    # Version 10 writes teardrops without an id, and makes up a new one for each when it reads them.
    ours_by_key = {
        (pour.part_uid, pour.uid or _corner(pour.boundary, pour.priority), pour.layer): pour for pour in board.areas
    }
    boundaries: list[Triple] = []
    for zone in facts["zones"]:
        layers = [layer for layer in zone["layers"] if layer in facts["copper_layers"]]
        for layer in [] if zone["rule_area"] else layers:
            label = f"area {zone['uid']} on {layer}"
            ours = ours_by_key.pop((zone["part"], zone["uid"], layer), None) or ours_by_key.pop(
                (zone["part"], _corner(area(zone["boundary"]), zone["priority"]), layer), None
            )
            if ours is None:
                yield Mismatch(label, "area", "there", "absent")
                continue
            for key in ("net", "name", "priority"):
                yield from unequal(label, key, zone[key], getattr(ours, key))
            pieces = zone["fills"].get(layer, [])
            yield from unequal(label, "unfilled", not pieces, ours.unfilled)
            yield from _fill_mismatches(label, pieces, ours)
            boundaries.append((f"{label} boundary", area(zone["boundary"]), ours.boundary))
    for key in ours_by_key:
        yield Mismatch(f"area {key[1]} on {key[2]}", "area", "absent", "there")
    yield from shape_mismatches(boundaries, along_edge=CHORD_MM)


def keepouts(board: Board, facts: Facts) -> Found:
    """Area, layers and bans of every keep-out."""
    theirs_all = [zone for zone in facts["zones"] if zone["rule_area"]]
    triples = []
    for label, theirs, ours in matched(theirs_all, board.keepouts, lambda _: "keep-out"):
        layers = [n for n in theirs["layers"] if n in facts["copper_layers"] or not n.endswith(".Cu")]
        yield from unequal(label, "layers", sorted(layers), sorted(ours.layers))
        yield from unequal(label, "bans", theirs["bans"], sorted(ours.bans))
        triples.append((label, area(theirs["boundary"]), ours.area))
    yield from shape_mismatches(triples, along_edge=CHORD_MM)


def outline(board: Board, facts: Facts) -> Found:
    """The board's area with its cut-outs."""
    theirs = facts["outline"]
    yield from unequal("outline", "closed", theirs["closed"], board.outline.is_closed)
    uids = {shape["uid"] for shape in facts["shapes"] if shape["layer"] == EDGE}
    for uid in sorted(uids ^ set(board.outline.uids)):
        yield Mismatch(f"graphic {uid}", "is part of the outline", str(uid in uids), str(uid not in uids))
    curved = any(shape["curved"] for shape in facts["shapes"] if shape["layer"] == EDGE)
    both = [("outline", area(theirs["area"]), board.outline.area)]
    yield from shape_mismatches(both, along_edge=CHORD_MM if curved else 0.0)


def texts(board: Board, facts: Facts) -> Found:
    """Resolved text, layer, place, size and box of every marking."""
    for label, theirs, ours in matched(_texts(facts), board.markings, lambda text: f"text {text.text[:30]!r}"):
        if not theirs["class"].startswith("PCB_DIM"):  # the editor words a dimension anew, in the user's unit
            yield from unequal(label, "text", _without_markup(theirs["shown"]), ours.text)
            yield from unequal(label, "source", theirs["source"], ours.source)
        yield from unequal(label, "layer", theirs["layer"], ours.layer.name)
        yield from unequal(label, "role", theirs["role"], ours.role.value)
        yield from unequal(label, "hidden", not theirs["visible"], ours.hidden)
        for key in ("mirrored", "knockout"):
            yield from unequal(label, key, theirs[key], getattr(ours, key))
        if theirs["class"] in ("PCB_TEXT", "PCB_FIELD"):  # others lie in a frame and have no anchor of their own
            yield from same_point(label, "place", theirs["at"], ours.at)
        yield from apart(label, "height", mm(theirs["height"]), ours.height)
        yield from apart(label, "pen", mm(theirs["pen"]), ours.stroke)
        yield from turned(label, theirs["rotation"], ours.rotation)


def text_boxes(board: Board, facts: Facts) -> Found:
    """Every edge of a text's box within 5 % of that dimension or 0.1 mm."""
    for label, theirs, ours in matched(_texts(facts), board.markings, lambda text: f"text {text.text[:30]!r}"):
        if not theirs["shown"] or theirs["font"] or theirs["class"] not in ("PCB_TEXT", "PCB_FIELD"):
            # Outline fonts depend on the fonts installed where the editor runs, and the box of a text box or a
            # dimension is that of its frame or arrows: nothing to hold against.
            continue
        left, top, right, bottom = theirs["box"]
        expected = np.array([left, -bottom, right, -top]) / 1e6
        if ours.extents.is_empty:
            yield Mismatch(label, "box", str(expected.round(3)), "none")
            continue
        found = np.array(ours.extents.bounds)
        allowed = np.maximum(TEXT_SHARE * np.tile(expected[2:] - expected[:2], 2), TEXT_MM)
        worst = float((np.abs(found - expected) / allowed).max())
        if worst > 1:
            yield Mismatch(label, "box", str(expected.round(3)), str(found.round(3)), worst)


def artwork(board: Board, facts: Facts) -> Found:
    """Drawn lines, arcs and polygons on any layer."""
    straight: list[Triple] = []
    curved: list[Triple] = []
    for label, theirs, ours in matched(_artwork(facts), board.graphics, lambda g: f"graphic on {g.layer.name}"):
        yield from unequal(label, "layer", theirs["layer"], ours.layer.name)
        (curved if theirs["curved"] else straight).append((label, area(theirs["area"]), ours.shape))
    yield from shape_mismatches(straight)
    yield from shape_mismatches(curved, along_edge=CHORD_MM)


LOOKS: dict[str, Callable[[Board, Facts], Found]] = {
    look.__name__: look
    for look in (
        counts,
        document,
        parts,
        pads,
        pad_copper,
        mask_openings,
        paste_openings,
        holes,
        courtyards,
        tracks,
        vias,
        fills,
        keepouts,
        outline,
        texts,
        text_boxes,
        artwork,
    )
}


def _corner(shape: BaseGeometry, priority: int) -> str:
    """What tells one boundary from another."""
    return str([priority, *(round(value, 4) + 0.0 for value in shape.bounds)])


def _fill_mismatches(label: str, pieces: list[list[str]], ours: Any) -> Found:
    """Fills come from the same list of points, so rings are held against rings; then the polygon built from them.

    Only where the points differ is the costly symmetric difference taken. The editor's rings are joined to their
    holes by zero-width cuts, so their plain area is that of the copper.
    """
    theirs = [ring(flat) for piece in pieces for flat in piece]
    same = len(theirs) == len(ours.rings) and all(map(_same_ring, theirs, ours.rings))
    if not same:
        yield from shape_mismatches([(f"{label} fill", area(pieces), ours.fill)])
        return
    expected = sum(shapely.Polygon(points).area for points in theirs if len(points) >= 3)
    if abs(ours.fill.area - expected) > max(SHAPE_SHARE * expected, SHAPE_MM2):
        told = abs(ours.fill.area - expected) / max(expected, SHAPE_MM2)
        yield Mismatch(f"{label} fill", "area", f"{expected:.4f} mm²", f"{ours.fill.area:.4f} mm²", told / SHAPE_SHARE)


def _same_ring(theirs: np.ndarray, ours: np.ndarray) -> bool:
    if len(ours) == len(theirs) + 1 and np.allclose(ours[0], ours[-1], rtol=0, atol=EXACT_MM):
        ours = ours[:-1]
    return theirs.shape == ours.shape and np.allclose(theirs, ours, rtol=0, atol=EXACT_MM)


def _texts(facts: Facts) -> list[Any]:
    """The editor's texts that are markings to us, too: a part's hidden fields are compared as data (`parts`)."""
    return [text for text in facts["texts"] if text["visible"] or text["role"] != MarkingRole.FIELD.value]


def _artwork(facts: Facts) -> list[Any]:
    """Shapes that are not the outline."""
    return [shape for shape in facts["shapes"] if shape["layer"] != EDGE]


def _without_markup(text: str) -> str:
    """Shown text keeps the editor's mark-up for overbars and scripts; a marking says what can be read."""
    while (bare := _MARKUP.sub(r"\1", text)) != text:
        text = bare
    return text


def _stripped(comments: Iterable[str]) -> list[str]:
    """Comments without the empty ones at the end."""
    kept = list(comments)
    while kept and not kept[-1]:
        kept.pop()
    return kept
