"""A test that was skipped has checked nothing, so a run with skips fails."""

from __future__ import annotations

import pytest


@pytest.hookimpl(tryfirst=True)
def pytest_sessionfinish(session: pytest.Session) -> None:
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    if skipped and session.exitstatus == pytest.ExitCode.OK:
        reporter.write_line(f"{len(skipped)} tests were skipped: that counts as failure", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
