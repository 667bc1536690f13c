"""What nets are called: users' names stay, pins and coils name the rest, and ground is found."""

from ohmwright.boardmap.naming import described, likely_ground, net_names
from ohmwright.circuit import Board, Net, Part, Pin


def board(*parts, nets=(), ground="GND"):
    names = {pin.net for part in parts for pin in part.pins if pin.net} | set(nets) | {ground}
    return Board("x", ground, tuple(Net(name) for name in sorted(names)), parts)


def two(name, kind, a, b):
    return Part(name, kind, (Pin("1", a), Pin("2", b)))


def chip(name, **pins):
    return Part(name, "buck", tuple(Pin(str(n + 1), net, role, role) for n, (role, net) in enumerate(pins.items())))


def test_names_come_from_the_user_then_pins_then_coils_then_pads():
    sw, out, fb, lone = (f"the {pad} net" for pad in ("U1.2", "L3.2", "R1.1", "C9.1"))
    made = board(
        chip("U1", VIN="V5", SW=sw, FB=fb), two("L3", "coil", sw, out), two("C1", "capacitor", out, "GND"),
        two("R1", "resistor", fb, out), two("C9", "capacitor", lone, "GND"),
    )  # fmt: skip
    names = net_names(made)
    assert names["V5"] == "V5"
    assert names["GND"] == "GND"
    assert names[sw] == "SW of U1"
    assert names[out] == "rail at L3"
    assert names[fb] == "FB of U1"
    assert names[lone] == "net at C9.1"
    assert described(names, None) == "no net yet"


def test_two_rails_of_one_coil_keep_apart():
    first, second = "the C1.1 net", "the C2.1 net"
    made = board(two("L3", "coil", first, second), two("C1", "capacitor", first, "GND"),
                 two("C2", "capacitor", second, "GND"))  # fmt: skip
    names = net_names(made)
    assert names[first] != names[second]
    assert all("rail at L3" in names[net] for net in (first, second))


def test_ground_nobody_named_is_told():
    low = "the C1.2 net"
    caps = [two(f"C{n}", "capacitor", f"the C{n}.1 net", low) for n in range(1, 5)]
    assert likely_ground(board(*caps)) == (low, "4 of 4 capacitors have an end on it")
    assert likely_ground(board(*caps[:1])) == ("", "")
    rail = chip("U1", VIN=low, SW="the U1.2 net")
    assert likely_ground(board(*caps, rail)) == ("", "")
    told = two("C9", "capacitor", "the C9.1 net", "GND")
    assert likely_ground(board(*caps, told)) == ("", "")
