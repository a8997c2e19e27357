# SPDX-License-Identifier: MIT
"""Gerber job files: what they say, what they leave open, and what is refused."""

from __future__ import annotations

import json
from typing import Any

import pytest

from lineworthy.errors import InputError
from lineworthy.intake.job import looks_like_job, read_job

JOB: dict[str, Any] = {
    "Header": {
        "GenerationSoftware": {"Vendor": "KiCad", "Application": "Pcbnew", "Version": "9.0.8"},
        "CreationDate": "2026-11-28T10:00:00+01:00",
    },
    "GeneralSpecs": {
        "ProjectId": {"Name": "frost", "GUID": "66726f73-742e-46b6-9963-61645f706362", "Revision": "B"},
        "Size": {"X": 60.1, "Y": 40.1},
        "LayerNumber": 4,
        "BoardThickness": 1.6,
    },
    "FilesAttributes": [
        {"Path": "frost-F_Cu.gtl", "FileFunction": "Copper,L1,Top", "FilePolarity": "Positive"},
        {"Path": "frost-F_Mask.gts", "FileFunction": "SolderMask,Top", "FilePolarity": "Negative"},
    ],
}


def read(content: Any) -> Any:
    return read_job("frost.gbrjob", json.dumps(content).encode())


def test_a_job_file() -> None:
    found = read(JOB)
    assert (found.project, found.revision, found.created) == ("frost", "B", "2026-11-28T10:00:00+01:00")
    assert found.guid == "66726f73-742e-46b6-9963-61645f706362"
    assert found.software == ("KiCad", "Pcbnew", "9.0.8")
    assert (found.size, found.layers, found.thickness) == ((60.1, 40.1), 4, 1.6)
    assert found.files == {
        "frost-F_Cu.gtl": ("Copper", "L1", "Top"),
        "frost-F_Mask.gts": ("SolderMask", "Top"),
    }


def test_a_byte_order_mark_is_no_harm() -> None:
    assert read_job("a.gbrjob", b"\xef\xbb\xbf" + json.dumps(JOB).encode()).project == "frost"


@pytest.mark.parametrize(
    ("key", "value", "attribute"),
    [("Size", {"X": 60.1}, "size"), ("Size", [60, 40], "size"), ("Size", {"X": "60", "Y": 40}, "size"),
     ("LayerNumber", "four", "layers"), ("LayerNumber", True, "layers"), ("LayerNumber", 1e9, "layers"),
     ("BoardThickness", None, "thickness"), ("BoardThickness", {}, "thickness")],
)  # fmt: skip
def test_what_is_not_as_it_should_be_counts_as_not_said(key: str, value: object, attribute: str) -> None:
    assert getattr(read({**JOB, "GeneralSpecs": {**JOB["GeneralSpecs"], key: value}}), attribute) is None


@pytest.mark.parametrize("files", [None, {}, "x", [1, {"Path": 7}, {"FileFunction": "Profile"}, None]])
def test_a_list_of_files_that_is_none(files: object) -> None:
    assert read({**JOB, "FilesAttributes": files}).files == {}


REFUSED = {
    "cut off": (json.dumps(JOB, indent=1)[:120].encode(), "is no complete JSON document"),
    "nothing": (b"", "line 1: is no complete JSON document"),
    "another text": (b"<html>", "line 1: is no complete JSON document"),
    "another JSON": (b'{"nets": []}', "has neither Header nor GeneralSpecs"),
    "a list": (b"[]", "has neither Header nor GeneralSpecs"),
    "nested without end": (b"[" * 200_000, "is no complete JSON document"),
    "not a text": (bytes(range(256)), "is no complete JSON document"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_refused(name: str) -> None:
    data, reason = REFUSED[name]
    with pytest.raises(InputError) as caught:
        read_job("frost.gbrjob", data)
    message = str(caught.value)
    assert message.startswith("frost.gbrjob: ")
    assert reason in message
    assert "\n" not in message


def test_telling_it_from_other_files() -> None:
    assert looks_like_job("a.GBRJOB", "")
    assert looks_like_job("job.json", json.dumps(JOB))
    assert not looks_like_job("a.json", '{"nets": []}')
    assert not looks_like_job("a.gbr", "%FSLAX46Y46*%")
