"""A case goes out as plain files and comes back exactly; casebooks merge without meeting."""

import csv
import json
import random
import subprocess
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from locum.casebook import rows
from locum.casebook.exchange import import_case
from locum.casebook.export import add_case, export_case
from locum.casebook.ids import IdMaker
from locum.casebook.merge import merge
from locum.casebook.parcel import Parcel
from locum.casebook.store import Store
from locum.errors import FileTrouble, Refused
from locum.review import chunk

GOLDEN = Path(__file__).parent / "golden"

words = st.text(max_size=30)
json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | st.floats(allow_nan=False) | words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=8,
)
bodies = st.dictionaries(words, json_values, max_size=4)
drives = st.fixed_dictionaries(
    {
        "kind": words,
        "board": bodies,
        "blocks": st.lists(st.binary(max_size=40), max_size=5),
        "clock": st.lists(
            st.tuples(
                st.integers(0, 2**40), st.integers(0, 2**45), st.floats(0, 1e6, allow_nan=False)
            ),
            max_size=3,
        ),
        "sheets": st.dictionaries(words, st.tuples(words, st.text(max_size=80)), max_size=2),
        "marks": st.lists(st.tuples(st.integers(0, 2**40), words, words), max_size=2),
        "reviews": st.lists(bodies, max_size=2),
        "ended": st.booleans(),
    }
)
cases = st.fixed_dictionaries(
    {
        "fields": bodies,
        "changes": st.lists(bodies, max_size=2),
        "findings": st.lists(st.tuples(words, bodies, words), max_size=3),
        "sheets": st.lists(st.tuples(words, words, st.text(max_size=80)), max_size=2),
        "attachments": st.lists(st.tuples(words, st.binary(max_size=60)), max_size=2),
        "drives": st.lists(drives, max_size=2),
    }
)


def write_down(store, content) -> str:
    case_id = store.new_case(content["fields"])
    for change in content["changes"]:
        store.change_case(case_id, change, author="a")
    for kind, body, author in content["findings"]:
        store.add_finding(case_id, kind, body, author)
    for role, name, text in content["sheets"]:
        store.attach_sheet(case_id, role, name, text)
    for name, data in content["attachments"]:
        store.attach(case_id, name, data)
    for one in content["drives"]:
        drive_id = store.begin_drive(one["kind"], case_id, one["board"], one["sheets"])
        store.append(drive_id, one["blocks"], one["clock"], [(1, 2, 3, "overrun")])
        store.begin_stretch(drive_id, 0, "real", "still", {"n": 0.1})
        store.answer(drive_id, 0, True)
        for t_ms, kind, note in one["marks"]:
            store.add_mark(drive_id, t_ms, kind, 5, note)
        for body in one["reviews"]:
            store.add_review(drive_id, "review 1", body)
        if one["ended"]:
            store.end_drive(drive_id, "done", 100)
    return case_id


def everything(store, leave_out=("identity",)):
    """Every row that cannot be made again."""
    return {
        name: sorted((tuple(row) for row in store.db.rows(f"SELECT * FROM {name}")), key=repr)
        for name in rows.TABLES
        if name not in leave_out
    }


@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(content=cases, as_zip=st.booleans())
def test_any_case_comes_back_exactly(tmp_path_factory, content, as_zip):
    folder = tmp_path_factory.mktemp("out")
    with Store.open(":memory:") as one, Store.open(":memory:") as two:
        case_id = write_down(one, content)
        made = export_case(one, case_id, folder, as_zip=as_zip)
        source = made.with_name(made.name + ".zip") if as_zip else made
        assert import_case(two, source).cases == (case_id,)
        assert everything(two) == everything(one)
        assert two.case(case_id) == one.case(case_id)
        assert two.drives(case_id) == one.drives(case_id)
        assert import_case(two, source).new_rows == 0
        assert all(line.passed for line in two.check())


@settings(max_examples=15, deadline=None)
@given(mine=st.lists(cases, max_size=2), theirs=st.lists(cases, max_size=2))
def test_merging_is_the_union_of_both(tmp_path_factory, mine, theirs):
    path = tmp_path_factory.mktemp("other") / "casebook.sqlite"
    with Store.open(":memory:") as one, Store.open(path) as two:
        for content in mine:
            write_down(one, content)
        for content in theirs:
            write_down(two, content)
        unfiled = two.begin_drive("hold")
        two.append(unfiled, [b"raw"])
        two.add_calibration("7", {"n": 1})
        wanted = {
            name: sorted({*some, *everything(two)[name]}, key=repr)
            for name, some in everything(one).items()
        }
        arrived = merge(one, path)
        assert everything(one) == wanted
        assert len(arrived.cases) == len(theirs)
        assert arrived.unfiled == 1
        assert merge(one, path).new_rows == 0
        assert all(line.passed for line in one.check())


def some_case(store) -> str:
    case_id = store.new_case(
        {
            "title": "Halden P4: fan runs",
            "component": "coolant sensor circuit",
            "complaint": {"words": "=HYPERLINK(1) revs up <b>when wet</b>"},
            "vin": "VIN-1",
        },
        author="Ilves",
    )
    store.attach_sheet(case_id, "sensor", "halden.toml", 'unit = "C"\n')
    store.attach(case_id, "../photo.jpg", b"\xff\xd8", note="before", author="Ilves")
    drive_id = store.begin_drive("listen", case_id, {"serial": "0007"})
    store.append(drive_id, [b"\x00\x01", b"\xff" * 3], [(0, 1772434800000, 3.5)])
    store.begin_stretch(drive_id, 0, "real", "normal")
    store.add_mark(drive_id, 1500, "key", 10000, "=1+2")
    store.end_drive(drive_id, "done", 60000)
    store.add_review(drive_id, "review 1", {"kick_outs": 1})
    store.add_finding(case_id, "found", {"cause": "sensor opens hot"}, "Ilves")
    store.add_calibration("0007", {"tables": [1, 2]}, "bench meter")
    return case_id


def test_export_opens_without_the_program(store, tmp_path):
    case_id = some_case(store)
    made = export_case(
        store, case_id, tmp_path, pages={"report-workshop.html": "<p>x", "report.json": "{}"}
    )
    names = {path.relative_to(made).as_posix() for path in made.rglob("*") if path.is_file()}
    assert {"README.txt", "case.json", "drives.csv", "findings.csv", "checksums.txt"} <= names
    assert {"report-workshop.html", "report.json"} <= names
    assert "attachments/photo.jpg" in names
    assert (made / "sheets/sensor-halden.toml").read_text() == 'unit = "C"\n'
    [drive] = (made / "drives").iterdir()
    assert (drive / "record.bin").read_bytes() == b"\x00\x01\xff\xff\xff"
    marks = (made / "marks.csv").read_text("utf-8-sig")
    assert "# t_s [s]:" in marks
    assert ",'=1+2" in marks
    run = subprocess.run(["sha256sum", "-c", "--quiet", "checksums.txt"], cwd=made, check=False)
    assert run.returncode == 0
    with zipfile.ZipFile(tmp_path / f"{made.name}.zip") as archive:
        assert {name.partition("/")[2] for name in archive.namelist()} == names


def test_decoded_record_is_written_with_units(store, files_of):

    samples = np.array(
        [
            (0, 1000, 100, 24900, 25000, 25100, -1, -1, -1, 0),
            (1000, 10, 10, 100, 200, 50000, 500000, 600000, chunk.OPEN_MILLIOHM, 1),
        ],
        chunk.SAMPLE,
    )
    edges = np.array([(500, 2, 1)], chunk.EDGE)
    made = chunk.Chunk(0, 2000, samples=samples, edges=edges)
    case_id = some_case(store)
    files = files_of(store, case_id, decode=lambda blocks: [made])
    [name] = [name for name in files if name.endswith("/samples.csv")]
    lines = files[name].decode("utf-8-sig").splitlines()
    body = [line for line in lines if not line.startswith("#")]
    assert body[1] == "0.0,1.0,100,2.49,2.5,2.51,,,,real"
    assert body[2] == "1.0,0.01,10,0.01,0.02,5.0,500.0,600.0,open,stand_in"
    assert any(line.startswith("# node_mean_v [V]:") for line in lines)
    assert any(name.endswith("/edges.csv") for name in files)


def test_record_that_cannot_be_decoded_is_still_exported(store, files_of):
    def decode(blocks):
        raise ValueError("unknown record kind 9")

    files = files_of(store, some_case(store), decode=decode)
    assert "could not be decoded" in files["README.txt"].decode()
    assert any(name.endswith("record.bin") for name in files)


def test_nothing_is_replaced_or_left_half(store, tmp_path):
    case_id = some_case(store)
    made = export_case(store, case_id, tmp_path)
    before = (made / "case.json").read_bytes()
    with pytest.raises(FileTrouble, match="something of that name"):
        export_case(store, case_id, tmp_path)
    assert (made / "case.json").read_bytes() == before
    (tmp_path / "file").write_text("x")
    with pytest.raises(FileTrouble, match="export"):
        export_case(store, case_id, tmp_path / "file")
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


@pytest.mark.parametrize("kind", ["changed", "missing", "both"])
def test_damaged_export_names_every_fault_and_imports_nothing(store, tmp_path, kind):
    made = export_case(store, some_case(store), tmp_path, as_zip=False)
    if kind in ("changed", "both"):
        (made / "drives.csv").write_text("other")
    if kind in ("missing", "both"):
        next((made / "drives").iterdir()).joinpath("record.bin").unlink()
    with Store.open(":memory:") as other:
        with pytest.raises(FileTrouble) as error:
            import_case(other, made)
        assert len(error.value.remarks) == {"changed": 2, "missing": 2, "both": 3}[kind]
        assert other.cases() == []


def test_other_folders_and_newer_exports_are_refused(store, tmp_path):
    with pytest.raises(FileTrouble, match=r"case\.json"):
        import_case(store, tmp_path)
    with pytest.raises(FileTrouble, match="check the path|Check the path"):
        import_case(store, tmp_path / "no.zip")
    made = export_case(store, some_case(store), tmp_path, as_zip=False)
    outer = json.loads((made / "case.json").read_text("utf-8"))
    outer["format"] += 1
    (made / "case.json").write_text(json.dumps(outer), "utf-8")
    (made / "checksums.txt").write_text("", "utf-8")
    with pytest.raises(Refused, match="newer program"):
        import_case(store, made)


def test_row_changed_by_hand_is_refused_whole(store, tmp_path):
    made = export_case(store, some_case(store), tmp_path, as_zip=False)
    case = json.loads((made / "case.json").read_text("utf-8"))
    case["tables"]["finding"][0]["author"] = "somebody else"
    (made / "case.json").write_text(json.dumps(case), "utf-8")
    (made / "checksums.txt").write_text("", "utf-8")
    before = everything(store)
    with pytest.raises(Refused, match="another 'author'"):
        import_case(store, made)
    assert everything(store) == before
    case["tables"]["finding"][0]["body"] = {"cause": "forged"}
    (made / "case.json").write_text(json.dumps(case), "utf-8")
    with Store.open(":memory:") as other:
        with pytest.raises(FileTrouble, match="checksum"):
            import_case(other, made)
        assert other.cases() == []


def test_later_export_adds_only_what_is_new(store, tmp_path):
    with Store.open(":memory:") as other:
        case_id = store.new_case({"title": "t"})
        drive_id = store.begin_drive("quiet", case_id)
        import_case(other, export_case(store, case_id, tmp_path / "one"))
        store.end_drive(drive_id, "done")
        store.add_finding(case_id, "note", {"text": "later"})
        arrived = import_case(other, export_case(store, case_id, tmp_path / "two"))
        assert arrived.new_rows == 1
        assert everything(other) == everything(store)
        assert [hit.id for hit in other.find("later")] == [case_id]


def test_identity_comes_only_if_sent_and_never_after_erasure(store, tmp_path):
    case_id = some_case(store)
    plain = export_case(store, case_id, tmp_path / "plain")
    full = export_case(store, case_id, tmp_path / "full", with_identity=True)
    with Store.open(":memory:") as other:
        import_case(other, plain)
        assert other.identity(case_id) == {}
    with Store.open(":memory:") as other:
        import_case(other, full)
        assert other.identity(case_id) == {"vin": "VIN-1"}
        other.erase_identity(case_id)
        import_case(other, full)
        assert other.identity(case_id) == {}


def test_merge_takes_filing_and_endings_from_either_side(path, store):
    drive_id = store.begin_drive("hold")
    with Store.open(path) as other:
        case_id = other.new_case({"title": "t"})
        rows_here = [dict(row) for row in store.db.rows("SELECT * FROM drive")]
        with other.db.transaction() as connection:
            rows.put_rows(connection, "drive", rows_here, rows.columns(other.db, "drive"))
        other.file_drive(drive_id, case_id)
        other.end_drive(drive_id, "done")
    merge(store, path)
    assert store.drive(drive_id).case_id == case_id
    assert store.drive(drive_id).how == "done"


def a_record() -> chunk.Chunk:
    """A chunk with something in every table, its arrays as a decoder makes them."""
    gone = chunk.OPEN_MILLIOHM
    return chunk.Chunk(
        0,
        2000,
        samples=np.array(
            [(0, 1000, 100, 24900, 25000, 25100, -1, -1, -1, 0),
             (1000, 10, 10, 100, 200, 50000, 500000, 600000, gone, 1)], chunk.SAMPLE),
        edges=np.array([(1500, 2, 1), (1730, 2, 0)], chunk.EDGE),
        duties=np.array([(1550, 3, 125)], chunk.DUTY),
        marks=np.array([(1900, chunk.MARK_BUTTON, 10000)], chunk.MARK),
        moves=np.array([(990, chunk.MOVE_RELAY_ON, 0), (1000, chunk.MOVE_STEP, 24980)], chunk.MOVE),
        states=np.array([(990, 2, 0)], chunk.STATE),
        aux=np.array([(1000, chunk.AUX_VBUS, 50400), (1250, chunk.AUX_BOARD_C, 31750)], chunk.AUX),
        gaps=np.array([(1200, 1210, 4)], chunk.GAP),
    )  # fmt: skip


def test_cells_of_decoded_tables_are_plain_numbers(store, files_of):
    """A spreadsheet reads every cell of a measured column as a number."""
    files = files_of(store, some_case(store), decode=lambda blocks: [a_record(), a_record()])
    text = {name.rpartition("/")[2]: data.decode("utf-8-sig") for name, data in files.items()
            if name.startswith("drives/") and name.endswith(".csv")}  # fmt: skip
    for name, columns in {"edges.csv": 3, "duties.csv": 3, "slow-channels.csv": 1}.items():
        rows = [row for row in csv.reader(text[name].splitlines()) if not row[0].startswith("#")]
        assert len(rows) > 2
        for row in rows[1:]:
            assert all(float(cell) >= 0 for cell in row[:columns])


def export_golden(folder: Path) -> None:
    """The case whose export is kept, written into ``folder``."""
    chance = random.Random(20260302)
    begin = datetime(2026, 3, 2, 7, 0, tzinfo=UTC)
    with Store.open(":memory:", now=lambda: begin) as store:
        store.ids = IdMaker(lambda: int(begin.timestamp() * 1000), chance=chance.getrandbits)
        add_case(store, some_case(store), Parcel(folder), decode=lambda blocks: [a_record()])


def test_export_looks_as_it_always_did(tmp_path):
    """Run ``python tests/casebook/test_exchange.py`` to write the golden export anew, and look at
    what changed before committing it."""
    export_golden(tmp_path)
    found, wanted = (
        {p.relative_to(at).as_posix(): p.read_bytes() for p in at.rglob("*") if p.is_file()}
        for at in (tmp_path, GOLDEN)
    )
    assert sorted(found) == sorted(wanted)
    for name, data in found.items():
        if name != "checksums.txt":
            assert data == wanted[name], name


if __name__ == "__main__":
    export_golden(GOLDEN)
