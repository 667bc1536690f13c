"""Who may hand a picture or an edit of the map over, and what is refused before it is looked at."""

import json
import struct

import pytest
from tests.page.conftest import Served
from tests.page.test_doors import asked


@pytest.fixture(scope="module")
def port(built_page, tmp_path_factory):
    served = Served(tmp_path_factory.mktemp("map") / "cases.sqlite", "--own", "bench lamp")
    yield served.port
    served.end()


def test_a_picture_is_taken_from_the_page_only(port):
    body = b"\xff\xd8\xff" + bytes(100)
    assert asked(port, "POST", "/api/picture", body, Content_Type="application/json")[0].status == 415
    assert asked(port, "POST", "/api/picture", body, Content_Type="text/plain")[0].status == 415
    stranger = asked(port, "POST", "/api/picture", body, Content_Type="image/jpeg", Origin="http://elsewhere.example")
    assert stranger[0].status == 403
    answer, data = asked(port, "POST", "/api/picture?side=inside", body, Content_Type="image/jpeg")
    assert answer.status == 422
    assert "side" in json.loads(data)["message"]
    answer, data = asked(port, "POST", "/api/picture", body, Content_Type="image/jpeg")
    assert answer.status == 422
    assert "damaged" in json.loads(data)["message"]


def test_a_picture_that_says_it_is_huge_is_refused_before_it_is_read(port):
    answer, _ = asked(port, "POST", "/api/picture", b"", Content_Type="image/jpeg", Content_Length=str(10**9))
    assert answer.status == 413
    head = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + struct.pack(">IIBBBBB", 100_000, 100_000, 8, 2, 0, 0, 0)
    assert asked(port, "POST", "/api/picture", head, Content_Type="image/png")[0].status == 422


@pytest.mark.parametrize("key", ["..%2f..%2fetc", "0" * 64, "x"])
def test_only_tiles_are_given_out(port, key):
    assert asked(port, "GET", f"/api/tile/{key}/0/0/0")[0].status == 404


@pytest.mark.parametrize(
    ("path", "body"),
    [
        ("part", {"kind": "capacitor", "layer": "0" * 64, "first": [1.0, 1.0], "far": [9.0, 9.0]}),
        ("part", {"kind": "capacitor", "layer": "0", "first": [1.0], "far": [9.0, 9.0]}),
        ("part", {"kind": "capacitor", "layer": "0", "first": [1e99, 1.0], "far": [9.0, 9.0]}),
        ("join", {"pads": ["C1.1"]}), ("join", {"pads": ["C1.1", "C2.1"]}), ("net", {"pad": "C1.1", "name": "V"}),
        ("move", {"part": "C1", "dx": 1.0}), ("erase", {"part": "C1"}), ("kind", {"part": "C1", "kind": "coil"}),
        ("scale", {"layer": "0", "a": [0.0, 0.0], "b": [1.0, 0.0], "mm": -1.0}),
        ("name-pins", {"part": "U1", "rows": [{"pins": ["1"], "name": "VIN"}]}),
        ("net", {"pad": "C1.1", "nominal": "5"}), ("net", {"pad": "C1.1", "more": 1}),
    ],
)  # fmt: skip
def test_edits_of_nothing_change_nothing(port, path, body):
    before = json.loads(asked(port, "GET", "/api/case")[1])["sequence"]
    order = json.dumps({"seen": before, **body})
    answer, data = asked(port, "POST", f"/api/map/{path}", order, Content_Type="application/json")
    assert answer.status == 422
    assert json.loads(data)["message"]
    assert json.loads(asked(port, "GET", "/api/case")[1])["sequence"] == before


def test_a_pasted_table_is_shown_and_not_taken(port):
    before = json.loads(asked(port, "GET", "/api/case")[1])["sequence"]
    order = json.dumps({"text": "1 VIN Supply\n2, EP GND Ground"})
    answer, data = asked(port, "POST", "/api/map/read-pins", order, Content_Type="application/json")
    assert answer.status == 200
    assert [(row["pins"], row["name"]) for row in json.loads(data)["rows"]] == [(["1"], "VIN"), (["2", "EP"], "GND")]
    assert json.loads(asked(port, "GET", "/api/case")[1])["sequence"] == before
    too_long = json.dumps({"text": "1 VIN\n" * 60_000})
    answer, _ = asked(port, "POST", "/api/map/read-pins", too_long, Content_Type="application/json")
    assert answer.status == 422
