# SPDX-License-Identifier: MIT
"""From the document as the bindings write it to the document we keep: rules, stack-up, lasting ids."""

from __future__ import annotations

import json
import re
import uuid
from pathlib import Path

import layout

SPACE = uuid.UUID("6f1f2c54-9d0e-5a7b-8a39-1f0a1042b000")
SORTED = ("footprint", "segment", "via", "gr_text", "gr_line", "gr_arc", "zone")
_UUID = re.compile(r'\(uuid "?[0-9a-f-]{36}"?\)')


def project(path: Path) -> None:
    """Writes the project file with the design rules beside a board."""
    classes = []
    for name, rule in layout.RULES.items():
        classes.append({
            "name": name, "clearance": rule.clearance, "track_width": rule.width, "via_diameter": rule.via,
            "via_drill": rule.drill, "priority": 2147483647 if name == "Default" else len(classes),
            "diff_pair_gap": 0.2, "diff_pair_width": 0.2, "microvia_diameter": 0.3, "microvia_drill": 0.1,
        })  # fmt: skip
    rules = {
        "max_error": 0.02,
        "min_clearance": 0.15,
        "min_copper_edge_clearance": 0.15,
        "min_hole_clearance": 0.2,
        "min_hole_to_hole": 0.25,
        "min_resolved_spokes": 1,
        "min_text_height": 0.8,
        "min_text_thickness": 0.1,
        "min_through_hole_diameter": 0.3,
        "min_track_width": 0.15,
        "min_via_annular_width": 0.05,
        "min_via_diameter": 0.4,
    }
    content = {
        "board": {"design_settings": {"rules": rules}},
        "meta": {"filename": path.name, "version": 3},
        "net_settings": {
            "classes": classes,
            "meta": {"version": 4},
            "netclass_patterns": [{"netclass": kind, "pattern": net} for net, kind in sorted(layout.CLASS_OF.items())],
        },
    }
    path.write_text(json.dumps(content, indent=2) + "\n", encoding="utf-8")


def with_stackup(text: str) -> str:
    """Adds the stack-up, which the bindings cannot reach, to the set-up section."""
    lines = ["\t\t(stackup"]
    for name, kind, thickness, material in layout.STACKUP:
        extra = ' (color "Green")' if "Mask" in kind else ""
        extra += f" (thickness {thickness})" if thickness else ""
        extra += f' (material "{material}") (epsilon_r 4.4) (loss_tangent 0.02)' if material else ""
        lines.append(f'\t\t\t(layer "{name}" (type "{kind}"){extra})')
    lines += ['\t\t\t(copper_finish "ENIG")', "\t\t\t(dielectric_constraints no)", "\t\t)"]
    return text.replace("\t(setup\n", "\t(setup\n" + "\n".join(lines) + "\n", 1)


def split(text: str) -> tuple[str, list[str], str]:
    """The head line, the top-level nodes and the tail of a document whose nodes start on tab-indented lines."""
    head, body = text.split("\n", 1)
    nodes = re.findall(r"^\t\(.*?(?=^\t\(|^\)\s*\Z)", body, flags=re.MULTILINE | re.DOTALL)
    return head + "\n", nodes, ")\n"


def kind_of(node: str) -> str:
    """First word of a node."""
    return re.match(r"\s*\((\w+)", node)[1]  # type: ignore[index]


def settled(text: str) -> str:
    """The same document with ids derived from what an item is, and items in an order that follows from them.

    A part's id hangs on its reference alone, its pads' and fields' ids on reference and name, so that they outlive
    a change of place or value; the ids of other items hang on their content.
    """
    head, nodes, tail = split(text)
    seen: dict[str, int] = {}
    groups: dict[str, list[tuple[str, str]]] = {}
    for node in nodes:
        kind = kind_of(node)
        reference = re.search(r'\(property "Reference" "([^"]*)"', node) if kind == "footprint" else None
        name = _natural(reference[1]) if reference else _bare(node.split("(filled_polygon")[0])
        groups.setdefault(kind, []).append((name, node))
    done = []
    for kind, members in groups.items():
        if kind in SORTED:
            members.sort()
        for name, node in members:
            done.append(
                _renamed_part(node, name) if kind == "footprint" else _UUID.sub(lambda _, n=name: _next(n, seen), node)
            )
    return head + "".join(done) + tail


def _natural(name: str) -> str:
    return re.sub(r"\d+", lambda m: m[0].zfill(6), name)


def _bare(node: str) -> str:
    return _UUID.sub("", node)


def _next(key: str, seen: dict[str, int]) -> str:
    seen[key] = seen.get(key, 0) + 1
    return f'(uuid "{uuid.uuid5(SPACE, f"{key}#{seen[key]}")}")'


def _renamed_part(node: str, reference: str) -> str:
    seen: dict[str, int] = {}
    pieces = re.split(r"(?<=\n)(?=\t\t\()", node)
    for i, piece in enumerate(pieces):
        named = re.match(r'\t\t\((?:property|pad) "[^"]*"', piece)
        key = named[0] if named else "" if piece.startswith("\t\t(uuid") else _bare(piece)
        pieces[i] = _UUID.sub(lambda _, key=key: _next(f"{reference}|{key}", seen), piece)
    drawn = [i for i, piece in enumerate(pieces) if piece.startswith("\t\t(fp_")]
    for i, piece in zip(drawn, sorted(pieces[i] for i in drawn)):
        pieces[i] = piece
    return "".join(pieces)
