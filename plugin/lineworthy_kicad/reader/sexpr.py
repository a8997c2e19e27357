# SPDX-License-Identifier: MIT
"""The document's bracket notation: tokens, nodes, and the accessors everything else reads nodes with.

A node is a plain list ``[head, argument, ...]``; an argument is a node or a raw token. Quoted tokens keep their
quotes until read with `word`, because the format gives ``(net 5)`` and ``(net "5")`` different meanings.

Zone fills make up most of a large document, so a ``(pts (xy ..) ..)`` block that holds nothing but points is one
token and becomes ``["pts", block]``; `points.points_of` turns it into an array in one go. The document is walked one
top-level child at a time, so memory holds one footprint or zone as a tree, never the whole board.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any, Optional

from lineworthy.errors import InputError

Node = list[Any]
Progress = Callable[[float], None]

DEPTH_MAX = 64
"""Real documents nest about 12 deep; more is damage or malice."""

COORDINATE_MAX = 1e4
"""mm or degrees. The editor itself ends at 2147 mm; larger numbers only break geometry further on."""

_CHUNK = 1 << 18
"""Small enough that a window in the same process, which waits while a chunk is searched, still answers."""
_CHUNK_MAX = 1 << 26
_CHILD_MARKS = ("\n\t(", "\n  (", "\n(")
"""How a child of the document begins in the layouts the editor writes."""
_CLOSE = ")"

_TOKEN = re.compile(
    r"\(pts(?:\s*\(xy\s[-+.0-9eE\s]+\))+\s*\)"  # a whole block of plain points
    r'|\([a-z_]+(?: (?:[-+.\w]+|"[^\s"\\()]*"))+\)'  # a node of plain words, which most are, as one token
    r'|\(\s*[^\s()"|]*'  # an opening bracket with its head
    r"|\)"
    r'|"[^"\\]*(?:\\.[^"\\]*)*(?:"|\\?\Z)'  # the end may be missing where a chunk or the document ends
    r"|\|[^|]*(?:\||\Z)"  # embedded data
    r'|[^\s()"|][^\s()"]*',
    re.DOTALL,
)

_ESCAPES = {"n": "\n", "r": "\r", "t": "\t", "a": "\a", "b": "\b", "f": "\f", "v": "\v"}
_ESCAPE = re.compile(r"\\(x[0-9a-fA-F]{1,2}|[0-7]{1,3}|.)", re.DOTALL)


class Malformed(Exception):  # noqa: N818 - the node is malformed; it becomes an InputError with a line number
    """A node that lacks what it must have. `node` says where, `reason` what."""

    def __init__(self, node: Node, reason: str) -> None:
        self.node, self.reason = node, reason
        super().__init__(reason)


class Document:
    """A bracket document, walked once.

    Args:
        text: the document.
        name: what to call it in errors.
        progress: told the share walked so far, 0 to 1, about four times per megabyte; may raise to stop the walk.

    Raises:
        InputError: while walking, when brackets do not match, nest too deep, or the text ends early.
    """

    def __init__(self, text: str, name: str, progress: Optional[Progress] = None) -> None:
        # Version 9.0.0 of the editor wrote teardrops with one opening bracket missing; it reads them, so we do.
        if ")filter_ratio " in text:
            text = text.replace(")filter_ratio ", ")(filter_ratio ")
        self.text, self.name, self._progress = text, name, progress
        self.head, self.name_token = self._head()

    def _head(self) -> tuple[str, str]:
        """What kind of document it is, and the raw token behind that: a library footprint's name."""
        tokens = (match.group() for match in _TOKEN.finditer(self.text))
        first, second = next(tokens, ""), next(tokens, "")
        if not first.startswith("("):
            raise InputError(self.name, "not a board document" if self.text.strip() else "the file is empty")
        return first[1:].strip(), second if second[:1] not in ("(", ")") else ""

    def children(self) -> Iterator[Node]:
        """The top-level children in order, each dropped by us once the caller is done with it."""
        text, end_of_text = self.text, len(self.text)
        mark = next((mark for mark in _CHILD_MARKS if mark in text), "")
        heads: dict[str, str] = {}
        stack: list[Node] = []
        position = 0
        chunk = _CHUNK
        while position < end_of_text:
            end = self._chunk_end(position + chunk, mark)
            tokens = _TOKEN.findall(text, position, end)
            if end < end_of_text and tokens and text.endswith(tokens[-1], position, end) and not _is_whole(tokens[-1]):
                end -= len(tokens.pop())
                chunk *= 2
                if end <= position:
                    continue
            else:
                chunk = _CHUNK
            yield from self._nodes(tokens, stack, heads)
            position = end
            if self._progress:
                self._progress(position / end_of_text)
            if tokens and not stack:
                if text[position:].strip():
                    raise self._goes_on()
                return
        raise InputError(self.name, "the document ends before its last bracket is closed (truncated file?)")

    def _chunk_end(self, wanted: int, mark: str) -> int:
        """Where to cut the text: between children where their indent tells; any other place would be correct, too."""
        if wanted >= len(self.text):
            return len(self.text)
        cut = self.text.find(mark, wanted, wanted + _CHUNK_MAX) if mark else -1
        return cut if cut > 0 else wanted

    def _nodes(  # noqa: PLR0912 - the innermost loop: calls would double the time
        self, tokens: list[str], stack: list[Node], heads: dict[str, str]
    ) -> Iterator[Node]:
        """Feeds tokens to the open nodes in `stack`; yields each child of the root as it closes."""
        top: Node = stack[-1] if stack else []
        rest = iter(tokens)
        for token in rest:
            if token == _CLOSE:
                if not stack:
                    raise InputError(self.name, "a closing bracket too many")
                node = stack.pop()
                if len(stack) > 1:
                    top = stack[-1]
                elif stack:
                    top = []  # what is not a node at the top level is dropped
                    yield node
                elif next(rest, None) is not None:
                    raise self._goes_on()
            elif token[0] != "(":
                top.append(token)
            elif token[-1] == _CLOSE:
                node = ["pts", token] if token.startswith("(pts") else token[1:-1].split()
                if len(stack) > 1:
                    top.append(node)
                elif stack:
                    yield node
            else:
                head = heads.get(token)
                if head is None:
                    head = heads.setdefault(token, token[1:].strip())
                node = [head]
                if len(stack) > 1:
                    top.append(node)
                    if len(stack) > DEPTH_MAX:
                        raise InputError(self.name, f"brackets nested more than {DEPTH_MAX} deep")
                stack.append(node)
                top = node if len(stack) > 1 else []

    def _goes_on(self) -> InputError:
        """Two documents run together, or half of one pasted behind: reading the first alone would hide it."""
        return InputError(self.name, "the text goes on behind the document's last bracket")

    def line_of(self, child_index: int, child: Node, culprit: Node) -> int:
        """Line number of a node inside the child with that index; found by walking the text again."""
        ordinal = _ordinal(child, culprit)
        depth = index = seen = 0
        for match in _TOKEN.finditer(self.text):
            token = match.group()
            if token[0] == "(":
                inside = depth >= 1 and index == child_index
                if token[1:].split(None, 1)[:1] != ["xy"]:
                    if inside and seen == ordinal:
                        return self.text.count("\n", 0, match.start()) + 1
                    seen += inside
                depth += 1
            if token[-1] == _CLOSE and token[0] in "()":
                depth -= 1
                index += depth == 1
        return self.text.count("\n") + 1


def _is_whole(token: str) -> bool:
    """Whether a token that touches the end of a chunk can be sure not to go on behind it."""
    if token[0] == '"':
        body = token[1:-1]
        escaped = (len(body) - len(body.rstrip("\\"))) % 2 == 1
        return len(token) > 1 and token[-1] == '"' and not escaped
    if token[0] == "|":
        return len(token) > 1 and token[-1] == "|"
    return token[-1] == ")"


def _ordinal(root: Node, culprit: Node) -> int:
    """Position of a node among all nodes below `root` in document order; points are not counted."""
    count = 0
    todo = [root]
    while todo:
        node = todo.pop()
        if node is culprit:
            return count
        count += node[0] != "xy"
        todo.extend(part for part in reversed(node) if type(part) is list)
    return 0


def unquoted(token: str) -> str:
    """The text a raw token stands for."""
    if token[:1] != '"':
        return token
    body = token[1:-1]
    if "\\" not in body:
        return body
    return _ESCAPE.sub(_unescape, body)


def _unescape(match: re.Match[str]) -> str:
    code = match.group(1)
    if code[0] == "x" and len(code) > 1:
        return chr(int(code[1:], 16))
    if code[0].isdigit() and code[0] < "8":
        return chr(int(code, 8))
    return _ESCAPES.get(code, code)


def kids(node: Node) -> dict[str, Node]:
    """Child nodes by head; of several with one head the first."""
    found: dict[str, Node] = {}
    for part in node:
        if type(part) is list and part[0] not in found:
            found[part[0]] = part
    return found


def each(node: Node, *heads: str) -> list[Node]:
    """Child nodes with one of the heads, in order."""
    return [part for part in node if type(part) is list and part[0] in heads]


def atoms(node: Node, start: int = 1) -> list[str]:
    """The arguments of a node that are not nodes, as text."""
    return [unquoted(part) for part in node[start:] if type(part) is str]


def word(node: Node, index: int = 1) -> str:
    """Argument `index` as text.

    Raises:
        Malformed: it is missing or a node.
    """
    if index >= len(node) or type(node[index]) is not str:
        raise Malformed(node, f"'{node[0][:40]}' lacks its value")
    return unquoted(node[index])


def maybe_word(node: Optional[Node], index: int = 1, default: str = "") -> str:
    """Argument `index` as text, or the default when the node or the argument is not there."""
    if node is None or index >= len(node) or type(node[index]) is not str:
        return default
    return unquoted(node[index])


def number(node: Node, index: int = 1) -> float:
    """Argument `index` as a number.

    Raises:
        Malformed: it is missing, not a number, or beyond any board.
    """
    if index >= len(node) or type(node[index]) is not str:
        raise Malformed(node, f"'{node[0][:40]}' lacks a number")
    try:
        value = float(node[index])
    except ValueError:
        raise Malformed(node, f"'{node[0][:40]}' holds '{node[index][:40]}' where a number belongs") from None
    if not -COORDINATE_MAX < value < COORDINATE_MAX:
        raise Malformed(node, f"'{node[0][:40]}' holds a number beyond any board: {node[index][:40]}")
    return value


def maybe_number(node: Optional[Node], default: float, index: int = 1) -> float:
    """Argument `index` as a number, or the default when the node or the argument is not there."""
    if node is None or index >= len(node) or type(node[index]) is not str:
        return default
    return number(node, index)


def flag(node: Node, name: str) -> bool:
    """Whether a yes/no property is set, in any of the forms the formats use: bare word, ``(x)``, ``(x yes)``."""
    for part in node:
        if part == name:
            return True
        if type(part) is list and part[0] == name:
            return maybe_word(part, default="yes") in ("yes", "true")
    return False
