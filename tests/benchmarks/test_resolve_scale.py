"""De-duplication at 10,000, 100,000 and 1,000,000 records, a night on top, and a record-linkage library beside it.

    python -m pytest -m benchmark -s tests/benchmarks/test_resolve_scale.py

Each step runs in a process of its own, so that its peak memory is its own. By default up to
100,000; ANTEDATE_SCALE=1000000 adds the million (10 GB of disk, some 10 minutes on two quiet
cores, and as long for the library as PATIENCE says). Aims: a million in 10 minutes and 6 GiB, 1,000 new ones against it in 5 s,
faster than the library at equal or better F1. Processor seconds are printed
beside those on the clock: on shared cores only the former compare.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

HERE = Path(__file__).resolve().parent / "resolve"
SETS = HERE.parents[2] / "../shared/benchmarks"
# Seconds after which the library is waited for no longer.
PATIENCE = 2_400
MOST = int(os.environ.get("ANTEDATE_SCALE", "100000"))
pytestmark = [
    pytest.mark.benchmark,
    pytest.mark.timeout(7200),
    pytest.mark.skipif(not SETS.is_dir(), reason="the benchmark sets are not beside the checkout"),
]


def run(script: str, *words: str, patience: float | None = None) -> Any:
    """Run a script of the benchmark and return what it printed last, read as JSON; None for nothing,
    and for what has not ended after so many seconds.
    """
    command = [sys.executable, str(HERE / script), *words]
    path = os.pathsep.join([str(HERE.parents[2]), os.environ.get("PYTHONPATH", "")])
    environment = os.environ | {"PYTHONPATH": path}
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, check=False, env=environment, timeout=patience
        )
    except subprocess.TimeoutExpired:
        return None
    assert done.returncode == 0, done.stderr[-2000:]
    return json.loads(done.stdout.splitlines()[-1]) if done.stdout.strip() else None


def line(name: str, result: dict[str, float], count: int) -> str:
    """Return one step's figures in words."""
    rate = count / result["wall_s"]
    return (f"  {name:<8} {result['wall_s']:8.1f} s  {result['cpu_s']:8.1f} cpu s  {rate:9.0f} records/s  "
            f"peak {result['peak_mib']:6.0f} MiB")  # fmt: skip


@pytest.mark.parametrize("count", [10_000, 100_000, 1_000_000])
def test_a_first_run_and_a_night_beside_the_library(count: int, tmp_path: Path) -> None:
    """Print what each took and found; ours finds at least as well, for no more processor time."""
    if count > MOST:
        pytest.skip(f"ANTEDATE_SCALE={count} runs it")
    pytest.importorskip("splink", reason="the peer: pip install -e '.[bench]'")
    run("corpus.py", str(tmp_path), str(count + 1000))
    run("ours.py", "build", str(tmp_path))
    ours = run("ours.py", "run", str(tmp_path))
    run("ours.py", "bring", str(tmp_path))
    night = run("ours.py", "night", str(tmp_path))
    peer = run("peer.py", str(tmp_path), patience=PATIENCE)
    print(f"\n{count} records")
    for name, side in (("ours", ours), ("splink", peer)):
        if side:
            quality = "  P {precision:.3f}  R {recall:.3f}  F1 {f1:.3f}".format(**side["quality"])
            print(line(name, side["first"], count) + quality)
    print(line("1,000 new", night, 1000))
    assert ours["quality"]["precision"] >= 0.98
    assert ours["first"]["peak_mib"] < 6 * 1024
    if peer is None:
        least = PATIENCE / ours["first"]["wall_s"]
        print(f"  splink had not ended after {PATIENCE} s: more than {least:.1f} times ours")
        return
    for unit in ("wall_s", "cpu_s"):
        print(f"  splink / ours, {unit}: {peer['first'][unit] / ours['first'][unit]:.2f}")
    assert ours["quality"]["f1"] >= peer["quality"]["f1"]
    assert ours["first"]["cpu_s"] <= peer["first"]["cpu_s"]
