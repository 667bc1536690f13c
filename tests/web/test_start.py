"""What is loaded on the way to the first address and to the first advice, looked at in processes of their own."""

import json
import os
import subprocess
import sys
import time
from pathlib import Path

import ohmwright

ENVIRONMENT = os.environ | {"PYTHONPATH": str(Path(ohmwright.__file__).parents[1]), "OHMWRIGHT_WITHOUT_COMPILED": "1"}
HEAVY = (
    "cv2", "numba", "pypdfium2", "pyvips", "rich", "scipy.linalg", "scipy.ndimage", "scipy.optimize",
    "scipy.sparse.linalg", "scipy.spatial", "typer",
)  # fmt: skip
"""Libraries that take a tenth of a second or more to load and that neither address nor advice needs."""
LOADED = "import json, sys; print(json.dumps(sorted(sys.modules)), flush=True)"


def loaded_by(code: str, *words: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", code, *words], capture_output=True, text=True, timeout=120, check=True, env=ENVIRONMENT
    )
    return set(json.loads(done.stdout.splitlines()[-1]))


def test_page_starts_without_the_other_commands() -> None:
    loaded = loaded_by(f"import ohmwright.cli; {LOADED}")

    assert loaded & {"ohmwright.cli.commands", "typer", "rich", "numpy"} == set()


def test_address_needs_nothing_that_is_used_later(tmp_path: Path) -> None:
    """On a store that is there already, as on a second start."""
    code = f"""
import os, sys
from ohmwright.web import serve, serving
def said(line):
    {LOADED.replace("import json, sys", "import json")}
    os._exit(0)
serving._say = said
serve.main(["--no-browser", "--cases", sys.argv[1], "--board", "logger", "--seed", "5"])
"""
    cases = str(tmp_path / "cases.sqlite")
    loaded_by(code, cases)
    loaded = loaded_by(code, cases)

    assert {"fastapi", "sqlalchemy", "pyvisa", "ohmwright.web.app"} <= loaded
    assert loaded & {*HEAVY, "alembic", "ohmwright.datasheets", "ohmwright.pictures.render"} == set()


def test_first_advice_needs_neither_store_nor_wires_nor_pictures() -> None:
    code = f"""
from ohmwright.bootstrap import desk_at
from ohmwright.facts import EntryFact, Facts, Symptom
from ohmwright.formats.board_json import read_board_json
from ohmwright.practice.choice import boards
board = read_board_json(boards()["logger"])
facts = Facts(entries=tuple(EntryFact(net, None, True, True) for net in board.entries), symptom=Symptom.DEAD)
assert desk_at(memory=True, author="bench").engine.think(board, facts).advice.tests
{LOADED}
"""
    loaded = loaded_by(code)

    assert "ohmwright.planning.advise" in loaded
    assert loaded & {*HEAVY, "fastapi", "pyvisa", "sqlalchemy", "ohmwright.datasheets"} == set()


def test_copy_ends_with_a_maker_that_is_killed() -> None:
    """It must not hold on to the end of the line that tells it so."""
    code = """
import os, signal, time
from ohmwright.web.aside import Aside
aside = Aside(copied=True)
print(aside.do(os.getpid), flush=True)
os.kill(os.getpid(), signal.SIGKILL)
"""
    done = subprocess.run([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True, timeout=60, env=ENVIRONMENT)
    copy = int(done.stdout)
    for _ in range(200):
        if not _runs(copy):
            return
        time.sleep(0.1)
    raise AssertionError("the copy goes on")


def _runs(number: int) -> bool:
    try:
        state = Path(f"/proc/{number}/stat").read_text(encoding="utf-8").rsplit(")", 1)[1].split()[0]
    except OSError:
        return False
    return state != "Z"
