"""Who is answered and who is not."""

import http.client
import json

import pytest
from tests.page.conftest import Served

CASE = ("--board", "logger", "--fault", "logger-no-core", "--seed", "7")


@pytest.fixture(scope="module")
def port(built_page, tmp_path_factory):
    served = Served(tmp_path_factory.mktemp("doors") / "cases.sqlite", *CASE)
    yield served.port
    served.end()


def asked(port, method, path, body=None, **headers):
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    sent = {"Host": f"127.0.0.1:{port}", **{name.replace("_", "-"): value for name, value in headers.items()}}
    line.request(method, path, body, sent)
    answer = line.getresponse()
    data = answer.read()
    line.close()
    return answer, data


def test_strangers_are_refused_and_the_policy_is_strict(port):
    good, _ = asked(port, "GET", "/")
    assert good.status == 200
    policy = good.headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "script-src 'self';" in policy
    assert asked(port, "GET", "/api/case", Host="elsewhere.example")[0].status == 403
    body = json.dumps({"seen": 1})
    json_type = {"Content_Type": "application/json"}
    assert asked(port, "POST", "/api/do", body, Origin="http://elsewhere.example", **json_type)[0].status == 403
    assert asked(port, "POST", "/api/do", body, Content_Type="text/plain")[0].status == 415
    assert asked(port, "POST", "/api/do", "x" * 30_000, **json_type)[0].status == 413
    assert asked(port, "GET", "/../../pyproject.toml")[0].status == 404


@pytest.mark.parametrize(
    "body", [{"seen": "1"}, {"seen": 1, "more": 1}, {"seen": -1}, {"seen": 1, "figures": "9" * 99}, [], {"seen": None}]
)
def test_orders_that_cannot_be_read_change_nothing(port, body):
    before = json.loads(asked(port, "GET", "/api/case")[1])["sequence"]
    answer, data = asked(port, "POST", "/api/do", json.dumps(body), Content_Type="application/json")
    assert answer.status == 422
    assert "cannot be read" in json.loads(data)["message"]
    assert json.loads(asked(port, "GET", "/api/case")[1])["sequence"] == before


def test_an_order_on_old_news_is_refused(port):
    answer, data = asked(port, "POST", "/api/skip", json.dumps({"seen": 0}), Content_Type="application/json")
    assert answer.status == 409
    assert "went on" in json.loads(data)["message"]


def test_the_hidden_fault_is_not_told_before_the_end(port):
    answer, data = asked(port, "GET", "/api/truth")
    assert answer.status == 403
    case = asked(port, "GET", "/api/case")[1]
    assert b"logger-no-core" not in case
    assert b"decided" in data
