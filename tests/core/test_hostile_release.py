# SPDX-License-Identifier: MIT
"""A release folder whose every name and text is hostile: it is told as it is, and nothing of it acts or escapes."""

from __future__ import annotations

import csv
import io
import json
import xml.etree.ElementTree as ElementTree
from html.parser import HTMLParser

import pytest

import build
from lineworthy import review
from lineworthy.beside import Beside
from lineworthy.intake.archive import Member
from lineworthy.intake.folder import folder_of
from lineworthy.report import FORMATS
from lineworthy.review import Review

EVIL = '"><script>alert(1)</script><img src=x onerror=alert(2)>'
SIGNS = ("=", "+", "-", "@", "\t=", "\r=", " =", "\uff1d", "x;=", "x\t@")


class Tags(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, object]]) -> None:
        self.tags += [tag, *(name for name, _ in attrs if name.startswith("on"))]
        assert all("alert" not in str(value) or name in ("title", "aria-label", "data-text") for name, value in attrs)


def hostile(text: str, name: str = "") -> Review:
    """A board and a folder that hold `text` wherever a person or program can write something."""
    quoted = text.replace('"', '""')
    said = "".join(f"\\u{ord(c):04X}" for c in text)
    plots = (
        f"%TF.FileFunction,{said},{said}*%%TF.ProjectId,{said},{said},{said}*%%TF.GenerationSoftware,{said}*%"
        f"%TF.CreationDate,{said}*%%FSLAX46Y46*%%MOMM*%Q{text.replace('*', '')}*M02*"
    )
    layer = plots.replace(f"FileFunction,{said},{said}", "FileFunction,Copper,L1,Top")
    job = {
        "Header": {"CreationDate": text},
        "GeneralSpecs": {"ProjectId": {"Name": text, "Revision": text}, "LayerNumber": 7},
        "FilesAttributes": [{"Path": text, "FileFunction": "Copper,L1,Top"}],
    }
    files = {
        f"{name}{text}.gbr": plots,
        f"{name}{text}.gtl": layer,
        f"{name}{text} rev {text}.gts": "no plot",
        f"{name}{text}.drl": f"M48\nMETRIC\n; #@! TF.ProjectId,{text},{text}\n%\nM99{text}\nM30\n",
        f"{name}{text}.gbrjob": json.dumps(job),
        f"{name}{text}-pos.csv": f'Ref,Val,PosX,PosY,Side\n"{quoted}",1,3,4,top\n"{quoted}",1,x,4,top\n',
        f"{name}{text}-bom.csv": f'Reference,Value,Quantity\n"{quoted}","{quoted}",1\n',
    }
    members = tuple(Member(file, data.encode("utf-8", "replace")) for file, data in sorted(files.items()))
    subject = build.board(name=text, parts=[build.part(text, pads=[build.pad()])])
    return review(subject, beside=Beside(folder=folder_of(text, members)), only=["release"])


def test_markup_stays_text() -> None:
    plain, evil = hostile("x"), hostile(EVIL)
    assert len(evil.findings) >= 5
    assert any("<script>" in finding.message for finding in evil.findings)
    before, after = (set(Tags(FORMATS["html"].render(result)).tags) for result in (plain, evil))
    assert after <= before
    ElementTree.fromstring(FORMATS["junit"].render(evil))
    for name in ("json", "sarif"):
        json.loads(FORMATS[name].render(evil))


def test_no_text_drives_a_terminal_or_turns_about() -> None:
    shown = FORMATS["text"].render(hostile("\x1b[2J\u202e\x08\r\n"))
    assert all(character.isprintable() for character in shown.replace("\n", ""))


@pytest.mark.parametrize("sign", SIGNS)
def test_no_cell_is_a_formula(sign: str) -> None:
    """For a spreadsheet that splits at commas, and for one that splits at semicolons."""
    text = FORMATS["csv"].render(hostile(f"{sign}cmd|'/C calc'!A0"))
    assert "cmd|" in text
    for separator in ",;":
        for row in csv.reader(io.StringIO(text), delimiter=separator):
            for cell in row:
                assert "cmd|" not in cell or not cell.strip().startswith(("=", "+", "-", "@", "\uff1d"))
