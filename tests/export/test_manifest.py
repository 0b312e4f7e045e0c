"""The signed manifest: what `verify` finds, on a machine that has only the folder."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from voicelog import export
from voicelog.errors import ExportError
from voicelog.records import Filter

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.export.scene import Site


@pytest.fixture(scope="module")
def sound(worked: Site, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An export as it was written."""
    out = tmp_path_factory.mktemp("sound") / "export"
    export.write(worked.store, Filter(), "csv", out, by="cleo")
    return out


@pytest.fixture
def folder(sound: Path, tmp_path: Path) -> Path:
    """A copy of it to tamper with."""
    return shutil.copytree(sound, tmp_path / "export")


def edited(folder: Path, **changes: object) -> None:
    path = folder / "manifest.json"
    plain = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps(plain | changes), encoding="utf-8")


def test_a_sound_export_has_no_fault(folder: Path, worked: Site) -> None:
    assert export.verify(folder) == ()
    assert export.verify(folder, worked.store.key.public) == ()


def test_what_the_manifest_names(sound: Path, worked: Site) -> None:
    manifest = export.read(sound)
    assert manifest.records == tuple(
        record.id for record in worked.store.records.search(Filter(newest_first=False))
    )
    assert [file.name for file in manifest.files] == ["columns.json", "values.csv"]
    assert manifest.filter == (("state", "current"),)
    assert manifest.written_by == "Cleo Ångström (cleo)"
    assert manifest.written_at.startswith("2026-11-20T")
    assert manifest.ledger.genuine()
    lines = {line.seq: line.hash for line in worked.store.ledger.lines()}
    assert lines[manifest.ledger.seq] == manifest.ledger.hash
    assert len(manifest.fingerprint.split()) == 16


def test_the_filter_is_named(worked: Site, exported: Callable[..., Path]) -> None:
    folder = exported(worked, "csv", work_order="48-2213", state="all")
    assert dict(export.read(folder).filter) == {"work_order": "48-2213", "state": "all"}


def test_a_changed_file_is_named(folder: Path) -> None:
    path = folder / "values.csv"
    path.write_bytes(path.read_bytes().replace(b"98", b"99", 1))
    assert export.verify(folder) == ("values.csv: changed since the export was signed",)


def test_a_missing_file_is_named(folder: Path) -> None:
    (folder / "columns.json").unlink()
    assert export.verify(folder) == ("columns.json: missing",)


@pytest.mark.parametrize("name", ["more.csv", ".hidden", "values.csv.bak"])
def test_an_added_file_is_named(folder: Path, name: str) -> None:
    (folder / name).write_text("x")
    assert export.verify(folder) == (f"{name}: added; it is no part of the export",)


def test_an_added_folder_is_named(folder: Path) -> None:
    (folder / "more").mkdir()
    assert export.verify(folder) == ("more: added; it is no part of the export",)


def test_a_link_is_no_file(folder: Path, sound: Path) -> None:
    (folder / "values.csv").unlink()
    (folder / "values.csv").symlink_to(sound / "values.csv")
    assert export.verify(folder) == ("values.csv: not a plain file",)


def test_all_faults_are_told_at_once(folder: Path) -> None:
    (folder / "values.csv").write_text("x")
    (folder / "columns.json").unlink()
    (folder / "new").write_text("x")
    faults = export.verify(folder)
    assert [fault.split(":")[0] for fault in faults] == ["columns.json", "values.csv", "new"]


@pytest.mark.parametrize(
    "changes",
    [
        {"records": ["R-000001"]},
        {"filter": {}},
        {"written_by": "Nobody (nobody)"},
        {"written_at": "2030-01-01T00:00:00+00:00"},
        {"files": []},
    ],
)
def test_a_changed_manifest_does_not_fit_its_signature(
    folder: Path, changes: dict[str, object]
) -> None:
    edited(folder, **changes)
    assert any("the signature does not fit" in fault for fault in export.verify(folder))


def test_a_changed_ledger_head_is_found(folder: Path) -> None:
    plain = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    edited(folder, ledger=plain["ledger"] | {"seq": 1})
    assert any("head of the ledger" in fault for fault in export.verify(folder))


@pytest.mark.parametrize("name", ["manifest.sig", "site.pub"])
def test_a_missing_key_or_signature_is_named(folder: Path, name: str) -> None:
    (folder / name).unlink()
    assert export.verify(folder) == (f"{name}: missing",)


def test_a_signature_that_is_none(folder: Path) -> None:
    (folder / "manifest.sig").write_bytes(b"\xff\x00")
    assert export.verify(folder) == ("manifest.sig: holds no signature",)
    (folder / "manifest.sig").write_text("00" * 64)
    assert any("the signature does not fit" in fault for fault in export.verify(folder))


def forge(folder: Path) -> str:
    """Sign everything anew with a key of one's own, as a thief would."""
    key = Ed25519PrivateKey.generate()
    public = key.public_key().public_bytes_raw().hex()
    head = export.read(folder).ledger
    bare = type(head)(head.site, head.seq, head.hash, head.at, public)
    ledger = {
        "site": head.site, "seq": head.seq, "hash": head.hash, "at": head.at, "key": public,
        "signature": key.sign(bare.signed_bytes()).hex(),
    }  # fmt: skip
    edited(folder, public_key=public, records=["R-000001"], ledger=ledger)
    data = (folder / "manifest.json").read_bytes()
    (folder / "manifest.sig").write_text(key.sign(data).hex())
    (folder / "site.pub").write_text(public)
    return public


def test_a_forged_export_is_seen_by_its_key(folder: Path, worked: Site) -> None:
    public = forge(folder)
    assert export.verify(folder) == ()  # that is why the fingerprint is shown
    (fault,) = export.verify(folder, worked.store.key.public)
    assert export.fingerprint(public) in fault


def test_the_key_may_be_named_by_digits_fingerprint_or_file(
    folder: Path, worked: Site, tmp_path: Path
) -> None:
    public = worked.store.key.public
    kept = tmp_path / "kept.pub"
    kept.write_text(public + "\n")
    for named in (public, public.upper(), export.fingerprint(public), str(kept)):
        assert export.verify(folder, named) == ()
    kept.write_text("no key")
    for wrong in ("00" * 32, export.fingerprint("00" * 32)):
        assert len(export.verify(folder, wrong)) == 1
    for none in ("", "abc", str(tmp_path / "missing")):
        with pytest.raises(ExportError, match="neither a public key"):
            export.verify(folder, none)


def test_a_swapped_public_key_is_named(folder: Path) -> None:
    (folder / "site.pub").write_text("00" * 32)
    assert export.verify(folder) == ("site.pub: not the key that the manifest names",)


@pytest.mark.parametrize(
    "name", ["../values.csv", "/etc/hostname", "a/b", "", ".", "manifest.json"]
)
def test_a_manifest_that_names_files_elsewhere_is_refused(folder: Path, name: str) -> None:
    edited(folder, files=[{"name": name, "sha256": "0" * 64, "size": 1}])
    (fault,) = export.verify(folder)
    assert "names no plain file" in fault


@pytest.mark.parametrize(
    "data",
    [b"", b"{}", b"[]", b"null", b"\xff\xfe", b'{"form": "voicelog-export/1"}', b"[" * 100_000],
)
def test_what_is_no_manifest(folder: Path, data: bytes) -> None:
    (folder / "manifest.json").write_bytes(data)
    (fault,) = export.verify(folder)
    assert "not the manifest of an export" in fault


def test_a_manifest_of_another_version(folder: Path) -> None:
    edited(folder, form="voicelog-export/9")
    (fault,) = export.verify(folder)
    assert "this version reads" in fault


def test_a_folder_that_is_no_export(tmp_path: Path) -> None:
    (fault,) = export.verify(tmp_path)
    assert "manifest.json" in fault
    (fault,) = export.verify(tmp_path / "nowhere")
    assert "name the folder of an export" in fault


def test_progress_is_told(folder: Path) -> None:
    steps: list[tuple[int, int]] = []
    export.verify(folder, progress=lambda done, total: steps.append((done, total)))
    assert steps[-1] == (2, 2)
