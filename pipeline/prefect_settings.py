"""The switches that keep Prefect quiet and at home; set before it is imported."""

from __future__ import annotations

import os
from pathlib import Path

SWITCHES = {
    "DO_NOT_TRACK": "1",
    # The first switch alone still lets Prefect's server look up a telemetry host.
    "PREFECT_SERVER_ANALYTICS_ENABLED": "false",
    "PREFECT_LOGGING_LEVEL": "WARNING",
    # The first start on a cold machine compiles the library and makes its database: 20 s, the
    # default, was seen not to be enough.
    "PREFECT_SERVER_EPHEMERAL_STARTUP_TIMEOUT_SECONDS": "180",
    "PREFECT_LOGGING_TO_API_ENABLED": "false",
    # At exit the temporary server prints a traceback though all went well.
    "PREFECT_SERVER_LOGGING_LEVEL": "CRITICAL",
    # Nobody reads these of a server that lives for one run; keeping them cost seconds a run and let its
    # database grow. The states of runs, which a schedule needs, are kept without them.
    "PREFECT_SERVER_SERVICES_EVENT_PERSISTER_ENABLED": "false",
    "PREFECT_SERVER_SERVICES_TASK_RUN_RECORDER_ENABLED": "false",
    "PREFECT_SERVER_SERVICES_TRIGGERS_ENABLED": "false",
    # Descriptions of other systems to connect to, for pages that are never shown.
    "PREFECT_SERVER_REGISTER_BLOCKS_ON_START": "false",
}


def apply() -> None:
    """Set the switches, and a home of our own unless the user named one."""
    os.environ.update(SWITCHES)
    os.environ.setdefault("PREFECT_HOME", str(Path.home() / ".cache" / "antedate" / "prefect"))
    # Prefect makes the last folder of its home, not those above it.
    Path(os.environ["PREFECT_HOME"]).mkdir(parents=True, exist_ok=True)
