"""A test that was skipped has checked nothing, so a run with skips fails; and one run checks what the next one does.

The property tests draw the same examples each time, so that a change is judged by its own merits; `make explore`
draws others, and more, in search of what nobody thought of.
"""

from __future__ import annotations

import os
import tempfile

import hypothesis
import pytest

from ohmwright import kernels

hypothesis.settings.register_profile("steady", derandomize=True, database=None, deadline=None)  # no wall time
hypothesis.settings.register_profile("explore", derandomize=False, deadline=None)
hypothesis.settings.load_profile("steady")


def pytest_configure(config: pytest.Config) -> None:
    """Every test runs on the compiled code from its first line on; what compares it with its twin leaves it out."""
    assert kernels.awaited(), "the compiled code did not load"
    # A meter that whoever runs the tests has described is not the one that they expect.
    os.environ["XDG_CONFIG_HOME"] = tempfile.mkdtemp(prefix="ohmwright-tests-")


@pytest.hookimpl(tryfirst=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    if skipped and session.exitstatus == pytest.ExitCode.OK:
        reporter.write_line(f"{len(skipped)} tests were skipped: that counts as failure", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
