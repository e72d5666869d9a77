"""Identity is kept apart, left out by default, and can be erased for good."""

from locum.casebook.store import Store

SECRET = "QX-77-SECRET"


def test_identity_is_sorted_out_wherever_it_was_written(store):
    case_id = store.new_case(
        {
            "title": "t",
            "phone": "0123",
            "vehicle": {"family": "P4", "name": "Halden P4", "vin": SECRET},
            "identity": {"Owner": "A. B."},
        }
    )
    assert store.identity(case_id) == {"phone": "0123", "vin": SECRET, "owner": "A. B."}
    assert store.case(case_id).fields["vehicle"] == {"family": "P4", "name": "Halden P4"}
    store.change_case(case_id, {"plate": "new"})
    store.set_identity(case_id, {"phone": ""})
    assert store.identity(case_id) == {"vin": SECRET, "owner": "A. B.", "plate": "new"}


def test_identity_is_neither_found_nor_exported_unless_asked_for(store, files_of):
    case_id = store.new_case({"title": "t", "plate": SECRET})
    assert store.find(SECRET) == []
    assert not any(SECRET.encode() in data for data in files_of(store, case_id).values())
    with_identity = files_of(store, case_id, with_identity=True)
    assert [name for name, data in with_identity.items() if SECRET.encode() in data] == [
        "identity.json"
    ]


def test_erased_identity_is_gone_from_the_file_and_the_case_is_whole(path):
    with Store.open(path) as store:
        case_id = store.new_case({"title": "t", "plate": SECRET, "vin": SECRET * 3})
        store.add_finding(case_id, "found", {"cause": "connector"})
        assert store.erase_identity(case_id, author="Ilves") == 2
        assert store.identity(case_id) == {}
        assert [f.kind for f in store.findings(case_id)] == ["found", "erased"]
        assert all(line.passed for line in store.check())
        held = b"".join(p.read_bytes() for p in path.parent.iterdir())
    assert SECRET.encode() not in held
