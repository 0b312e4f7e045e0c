"""What leaves the house, where it may be put, and that it is a line in the ledger."""

from __future__ import annotations

import errno
import json
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.export.scene import compression, said, wheel_change
from voicelog import export, records
from voicelog.errors import Denied, ExportError, NotFound, VoicelogError
from voicelog.heard import Transcript
from voicelog.objects import Draft, Take
from voicelog.records import Filter

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.export.scene import Site


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def lines(folder: Path) -> list[dict[str, object]]:
    text = (folder / "records.jsonl").read_text(encoding="utf-8")
    return [json.loads(line) for line in text.splitlines()]


@pytest.mark.parametrize("format", export.FORMATS)
def test_the_same_records_give_the_same_bytes(
    format: export.Format, worked: Site, exported: Callable[..., Path]
) -> None:
    first, second = contents(exported(worked, format)), contents(exported(worked, format))
    for name in ("manifest.json", "manifest.sig"):  # these say when
        del first[name], second[name]
    assert first == second
    assert len(first) > 1


def test_only_what_was_confirmed(site: Site, exported: Callable[..., Path]) -> None:
    wheel_change(site)
    waiting = Draft("DM-32-10", "4", "10", (Take(Transcript.of_text("axle fail")),),
                    (said("10", "axle", "fail"),))  # fmt: skip
    site.store.notes.add(waiting, "48-2213", "tom")
    ids = [one["id"] for one in lines(exported(site, "jsonl"))]
    assert ids == ["R-000001", "R-000002", "R-000004", "R-000005"]


def test_superseded_ones_only_when_asked_and_marked(
    worked: Site, exported: Callable[..., Path]
) -> None:
    current = lines(exported(worked, "jsonl"))
    assert {one["state"] for one in current} == {"current"}
    assert "R-000003" not in [one["id"] for one in current]
    every = {one["id"]: one for one in lines(exported(worked, "jsonl", state="all"))}
    assert every["R-000003"]["state"] == "superseded"
    assert every["R-000003"]["superseded_by"] == "R-000005"
    assert every["R-000005"]["supersedes"] == "R-000003"
    assert every["R-000005"]["state"] == "current"
    (old,) = lines(exported(worked, "jsonl", state="superseded"))
    assert old["id"] == "R-000003"


def test_an_export_is_a_line_in_the_ledger(site: Site, exported: Callable[..., Path]) -> None:
    compression(site)
    folder = exported(site, "csv")
    (line,) = site.store.ledger.lines(kind="export")
    assert (line.act, line.by) == ("exported", "cleo")
    assert json.loads(line.detail) == {"format": "csv", "records": "1"}
    assert line.seq > export.read(folder).ledger.seq
    assert list(records.verify(site.store.home)) == []


def test_the_signed_head_of_an_export_shows_a_cut_tail(
    site: Site, exported: Callable[..., Path]
) -> None:
    compression(site)
    head = export.read(exported(site, "csv")).ledger
    assert list(records.verify(site.store.home, heads=(head,))) == []


def test_into_an_empty_folder(worked: Site, tmp_path: Path) -> None:
    out = tmp_path / "made"
    out.mkdir()
    export.write(worked.store, Filter(), "csv", out, by="cleo")
    assert export.verify(out) == ()


def test_into_folders_that_are_not_there(worked: Site, tmp_path: Path) -> None:
    out = tmp_path / "a" / "b" / "export"
    export.write(worked.store, Filter(), "csv", out, by="cleo")
    assert export.verify(out) == ()
    assert [path.name for path in out.parent.iterdir()] == ["export"]


def test_the_same_export_again_leaves_the_folder_as_it_is(worked: Site, tmp_path: Path) -> None:
    out = tmp_path / "export"
    first = export.write(worked.store, Filter(), "csv", out, by="cleo")
    before = contents(out)
    assert export.write(worked.store, Filter(), "csv", out, by="ruza") == first
    assert contents(out) == before
    assert [path.name for path in tmp_path.iterdir()] == ["export"]


@pytest.mark.parametrize(
    ("format", "conditions"),
    [("jsonl", {}), ("csv", {"work_order": "48-2213"}), ("csv", {"state": "all"})],
)
def test_another_export_is_refused(
    format: export.Format, conditions: dict[str, str], worked: Site, tmp_path: Path
) -> None:
    out = tmp_path / "export"
    export.write(worked.store, Filter(), "csv", out, by="cleo")
    before = contents(out)
    wanted = Filter(**conditions)  # type: ignore[arg-type]
    with pytest.raises(ExportError, match="holds another export"):
        export.write(worked.store, wanted, format, out, by="cleo")
    assert contents(out) == before
    assert [path.name for path in tmp_path.iterdir()] == ["export"]


def test_a_folder_with_other_files_is_refused(worked: Site, tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("mine")
    with pytest.raises(ExportError, match="is not empty"):
        export.write(worked.store, Filter(), "csv", tmp_path, by="cleo")
    assert contents(tmp_path) == {"letter.txt": b"mine"}


def test_a_tampered_export_is_not_taken_for_the_same(worked: Site, tmp_path: Path) -> None:
    out = tmp_path / "export"
    export.write(worked.store, Filter(), "csv", out, by="cleo")
    (out / "values.csv").write_text("x")
    with pytest.raises(ExportError, match=r"values\.csv: changed"):
        export.write(worked.store, Filter(), "csv", out, by="cleo")


def test_a_file_is_no_folder(worked: Site, tmp_path: Path) -> None:
    out = tmp_path / "export"
    out.write_text("mine")
    with pytest.raises(ExportError, match="is no folder"):
        export.write(worked.store, Filter(), "csv", out, by="cleo")
    assert out.read_text() == "mine"


def test_nothing_matches(worked: Site, tmp_path: Path) -> None:
    before = worked.store.ledger.head()
    for format in export.FORMATS:
        with pytest.raises(ExportError, match="no confirmed record matches"):
            export.write(
                worked.store, Filter(work_order="none"), format, tmp_path / "out", by="cleo"
            )
    assert list(tmp_path.iterdir()) == []
    head = worked.store.ledger.head()
    assert head is not None
    assert before is not None
    assert "exported" not in [line.act for line in worked.store.ledger.lines(after=before.seq)]


@pytest.mark.parametrize(
    ("by", "error"), [("tom", Denied), ("nobody", NotFound), (None, ExportError)]
)
def test_who_may_export(
    by: str | None, error: type[VoicelogError], worked: Site, tmp_path: Path
) -> None:
    with pytest.raises(error):
        export.write(worked.store, Filter(), "csv", tmp_path / "out", by=by)
    assert list(tmp_path.iterdir()) == []


def test_an_unknown_format(worked: Site, tmp_path: Path) -> None:
    with pytest.raises(ExportError, match="csv, jsonl, xlsx, pdf"):
        export.write(worked.store, Filter(), "doc", tmp_path / "out", by="cleo")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("code", "sentence"),
    [
        (errno.ENOSPC, "the disk is full"),
        (errno.EACCES, "can't be written"),
        (errno.EROFS, "can't"),
    ],
)
def test_a_disk_that_refuses_leaves_nothing(
    code: int, sentence: str, worked: Site, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object) -> None:
        raise OSError(code, "refused")

    monkeypatch.setattr("voicelog.export.folder.put", refuse)
    with pytest.raises(ExportError, match=sentence):
        export.write(worked.store, Filter(), "csv", tmp_path / "out", by="cleo")
    assert list(tmp_path.iterdir()) == []


def test_an_interrupted_export_leaves_nothing(
    worked: Site, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    for format in export.FORMATS:
        with pytest.raises(KeyboardInterrupt):
            export.write(
                worked.store, Filter(), format, tmp_path / "out", by="cleo", progress=interrupt
            )
    assert list(tmp_path.iterdir()) == []


def test_progress_ends_at_all_records(worked: Site, tmp_path: Path) -> None:
    for format in export.FORMATS:
        steps: list[tuple[int, int]] = []
        export.write(
            worked.store, Filter(), format, tmp_path / format, by="cleo",
            progress=lambda done, total, steps=steps: steps.append((done, total)),
        )  # type: ignore[misc]  # fmt: skip
        assert steps[-1] == (5, 5)


@pytest.mark.parametrize(
    ("conditions", "expected"),
    [
        ({"work_order": "48-2230"}, {"R-000006"}),
        ({"card": "DM-72-05"}, {"R-000006"}),
        ({"serial_number": "0417-B"}, {"R-000001", "R-000002", "R-000004", "R-000005", "R-000006"}),
        ({"serial_number": "BK-0130"}, {"R-000002"}),
        ({"person": "lukasz"}, {"R-000004"}),
        ({"words": "pitted"}, {"R-000001"}),
    ],
)
def test_filters(
    conditions: dict[str, str], expected: set[str], worked: Site, exported: Callable[..., Path]
) -> None:
    assert {one["id"] for one in lines(exported(worked, "jsonl", **conditions))} == expected
