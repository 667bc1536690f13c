"""`ohmwright instruments` against the practice bench in a process of its own."""

from tests.page.bench import Bench
from typer.testing import CliRunner

from ohmwright.cli.commands import app


def test_a_meter_is_asked_and_tested():
    bench = Bench("logger", "none", 3)
    meter, supply = (bench.address(name) for name in ("meter", "supply"))
    asked = CliRunner().invoke(app, ["instruments", meter])
    tested = CliRunner().invoke(app, ["instruments", meter, "--read", "ohms"])
    other = CliRunner().invoke(app, ["instruments", supply])
    bench.close()
    assert "practice meter (meter)" in asked.output
    assert "practice meter, ohms: OL" in tested.output  # its probes hang in the air
    assert "practice supply (supply)" in other.output


def test_the_families_are_listed():
    listed = CliRunner().invoke(app, ["instruments", "--families"])
    assert "SCPI bench meter" in listed.output
    assert "Yours go into" in listed.output
