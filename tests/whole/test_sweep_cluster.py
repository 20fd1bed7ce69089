"""A real Dask cluster on this machine: two worker processes and their scheduler."""

from __future__ import annotations

import gc
import os
import signal
import socket
import threading

import pytest

from frontcheck.errors import NotAvailableError
from frontcheck.study import blocks
from frontcheck.study.blocks import cluster_crew
from frontcheck.study.study_file import parse_study
from frontcheck.study.sweep import run_sweep

distributed = pytest.importorskip("distributed")

pytestmark = [
    pytest.mark.slow,
    # Raised inside Dask and what it starts, when processes come and go.
    pytest.mark.filterwarnings("ignore"),
]

STUDY = """
[nose]
[vary]
lower_lip_height_mm = { low = 300, high = 420 }
leading_edge_height_mm = { low = 780, high = 860 }
[sampling]
variants = 5000
"""


@pytest.fixture
def cluster():
    with distributed.LocalCluster(
        n_workers=2,
        threads_per_worker=1,
        processes=True,
        host="127.0.0.1",
        dashboard_address=None,
        silence_logs=50,
    ) as local:
        yield local


def test_a_cluster_gives_the_same_bytes_even_when_a_worker_is_killed(cluster, tmp_path):
    study = parse_study(STUDY)
    run_sweep(study, tmp_path / "serial")
    wanted = (tmp_path / "serial" / "results.csv").read_bytes()

    with cluster_crew(cluster.scheduler_address) as crew:
        assert crew.workers == 2
        run = run_sweep(study, tmp_path / "whole", crew)
    assert run.made == 5000
    assert (tmp_path / "whole" / "results.csv").read_bytes() == wanted

    told, killed = [], []

    def kill_one(done, total):
        told.append(done)
        if done >= 1000 and not killed:
            pid = next(iter(cluster.workers.values())).pid
            killed.append(pid)
            os.kill(pid, signal.SIGKILL)

    with cluster_crew(cluster.scheduler_address) as crew:
        run = run_sweep(study, tmp_path / "killed", crew, kill_one)
    assert killed
    assert max(told[:-1]) < 5000  # it was killed mid-study, and the rest came after
    assert run.made == 5000
    assert told == sorted(set(told))  # every part is counted once
    assert (tmp_path / "killed" / "results.csv").read_bytes() == wanted


def test_a_cluster_that_does_not_answer_is_named(monkeypatch):
    monkeypatch.setattr(blocks, "_ANSWER_WITHIN", "1s")
    with (
        pytest.raises(NotAvailableError, match=r"tcp://127\.0\.0\.1:9: found no scheduler"),
        cluster_crew("tcp://127.0.0.1:9"),
    ):
        pass


def test_without_dask_the_extra_is_named(monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(NotAvailableError, match=r"frontcheck\[cluster\]"), cluster_crew("tcp://x"):
        pass


def test_another_kind_of_server_is_no_cluster(capfd):
    """Its words are taken for the length of a message: of some exabytes."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = server.getsockname()[1]

        def talk() -> None:
            visitor, _ = server.accept()
            with visitor:
                visitor.sendall(b"HTTP/1.1 400 Bad Request\r\nContent-Length: 0\r\n\r\n" * 4)
                visitor.recv(1)

        talker = threading.Thread(target=talk, daemon=True)
        talker.start()
        with (
            pytest.raises(NotAvailableError, match="found no scheduler that answers"),
            cluster_crew(f"tcp://127.0.0.1:{port}"),
        ):
            pass
    gc.collect()
    assert "Traceback" not in capfd.readouterr().err
