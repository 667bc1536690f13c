"""Heat pictures and millivolts at the command line."""

import numpy as np
from tests.evidence.test_gradient import PLACES, placed, read
from typer.testing import CliRunner

from ohmwright.bootstrap import desk_at
from ohmwright.casebook.events import EntryDescribed, FeedSet
from ohmwright.circuit import Feed
from ohmwright.cli.commands import app
from ohmwright.fields.plate import Plate
from ohmwright.usecases import open_case
from ohmwright.usecases.desk import record, view_of


def case(tmp_path):
    cases = tmp_path / "c.sqlite"
    desk = desk_at(cases)
    open_case(desk, "x", placed())
    record(desk, "x", EntryDescribed("VIN", 12.0, True, True), FeedSet(Feed("V33", "GND", 0.5, 3.0)))
    return cases


def said(*words):
    found = CliRunner().invoke(app, [str(word) for word in words])
    assert found.exception is None, found.output
    return found.output


def test_millivolts_name_the_part_and_go_on_record(tmp_path):
    cases, table = case(tmp_path), tmp_path / "mv.csv"
    rows = (f"{p.x_mm},{p.y_mm},{p.volts * 1e3:.2f}" for p in read(PLACES["C4"]).points)
    table.write_text("# x, y, mV\n" + "\n".join(rows))
    text = said(
        "millivolts", table, "--net", "V33", "--current", "3", "--source", "5,20", "--black", "15,20", "--step", "10u",
        "--outline", "0,0 80,0 80,50 0,50", "--take", "--cases", cases,
    )  # fmt: skip
    assert "C4" in text
    assert "Next best" in text
    assert "On record." in text
    assert view_of(desk_at(cases), "x").facts.gradients[0].net == "V33"
    assert "bit e4: millivolts along V33 lead to C4" in " ".join(said("why", "C4", "--cases", cases).split())


def test_heat_names_the_part_and_goes_on_record(tmp_path):
    cases = case(tmp_path)
    y, x = np.mgrid[0:100, 0:160]
    r = np.hypot(x * 0.5 - PLACES["C4"][0], y * 0.5 - PLACES["C4"][1]) * 1e-3
    for name, rise in (("off", 0.0), ("on", Plate().rise(0.3, r))):
        celsius = 24.0 + np.random.default_rng(len(name)).normal(0.0, 0.05, x.shape) + rise
        np.savetxt(tmp_path / f"{name}.csv", celsius, fmt="%.2f", delimiter=",")
    pairs = [word for u, v in ((0, 0), (150, 0), (150, 90), (0, 90)) for word in ("--pair", f"{u},{v}={u / 2},{v / 2}")]
    text = said(
        "heat", tmp_path / "on.csv", "--off", tmp_path / "off.csv", *pairs, "--watts", "300m", "--take", "1",
        "--cases", cases,
    )  # fmt: skip
    assert "C4" in text
    assert "Reflections cannot be told" in text
    assert view_of(desk_at(cases), "x").facts.heats[0].parts[0] == "C4"
    why = " ".join(said("why", "C4", "--cases", cases).split())
    assert "heat by camera, fed at V33: warmest at C4" in why
    assert "if this is it" in why


def test_traces_of_two_widths_and_a_series_with_its_own_times(tmp_path):
    """10 squares of 1 mm, then 5 of 2 mm, 2 A and 0.5 mΩ a square: the end is 15 mV below the start."""
    cases, table = case(tmp_path), tmp_path / "mv.csv"
    table.write_text("2,0,-2\n5,0,-5\n10,0,-10\n15,0,-12.5\n18,0,-14")
    words = ("millivolts", table, "--net", "V33", "--current", "2", "--source", "0,0", "--black", "0,0",
             "--step", "10u", "--trace", "0,0 10,0", "--trace", "10,0 20,0", "--cases", cases)  # fmt: skip
    assert "do not fit" not in said(*words, "--width", "1", "--width", "2", "--contact", "0.05")
    assert "do not fit" in said(*words, "--contact", "0.05")
    refused = CliRunner().invoke(app, [str(word) for word in (*words, "--width", "1")])
    assert "1 widths for 2 traces" in str(refused.exception)


def test_a_folder_of_tables_with_the_times_of_its_frames(tmp_path):
    cases, folder, chance = case(tmp_path), tmp_path / "series", np.random.default_rng(3)
    folder.mkdir()
    y, x = np.mgrid[0:40, 0:60]
    r = np.hypot(x - PLACES["C4"][0], y - PLACES["C4"][1]) * 1e-3
    wave = Plate().swing(0.2 * 2.0 / np.pi, r, 0.1)
    times = np.cumsum(chance.uniform(0.6, 1.4, 40))
    for k, t in enumerate(times - times[0]):
        swing = (wave * np.exp(1j * 2.0 * np.pi * 0.1 * t)).imag
        np.savetxt(folder / f"{k}.csv", 24.0 + swing + chance.normal(0.0, 0.05, x.shape), fmt="%.2f", delimiter=",")
    (tmp_path / "times.txt").write_text("\n".join(f"{t:.2f}" for t in times))
    pairs = [word for u, v in ((0, 0), (55, 0), (55, 35), (0, 35)) for word in ("--pair", f"{u},{v}={u},{v}")]
    text = said(
        "heat", folder, *pairs, "--switched", "0.1", "--times", tmp_path / "times.txt", "--watts", "200m",
        "--cases", cases,
    )  # fmt: skip
    assert "C4" in text
    assert "60 × 40 pixels" in text


def test_files_that_are_not_there_are_named(tmp_path):
    found = CliRunner().invoke(
        app, ["heat", str(tmp_path / "no.csv"), "--pair", "0,0=0,0", "--cases", str(case(tmp_path))]
    )
    assert "cannot be read" in str(found.exception)
