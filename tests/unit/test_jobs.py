"""Jobs: stored as they end, taken up again, shared between workers, failing alone."""

import contextlib
import errno
import os
from pathlib import Path

import pytest

from sim.jobs import local_processes
from sim.jobs.crew import StandingCrew
from sim.jobs.job import ClusterError, Job, Pool, perform_here
from sim.jobs.jobs import run_jobs
from sim.machine.remarks import Remark
from sim.machine.unfinished import drop_temporary


def write_square(number: int, folder: Path) -> None:
    (folder / "square.txt").write_text(str(number * number))


def refuse(number: int, folder: Path) -> None:
    (folder / "half-written.txt").write_text("never to be seen")
    raise ValueError(f"no square of {number}")


def die(number: int, folder: Path) -> None:
    os._exit(9)


def listening(number: int, folder: Path) -> None:
    """Ports that processes of this session listen at, as /proc tells (state 0A), and the descriptors of this one."""
    rows = [line.split() for kind in ("tcp", "tcp6") for line in Path(f"/proc/net/{kind}").read_text().splitlines()[1:]]
    ports = {row[9] for row in rows if row[3] == "0A"}
    for process in (os.getpid(), os.getppid()):
        own = set()
        for entry in Path(f"/proc/{process}/fd").iterdir():
            with contextlib.suppress(OSError):  # the one that reads this very folder is gone again
                own.add(os.readlink(entry))
        open_here = [place for place in ports if f"socket:[{place}]" in own]
        (folder / f"{process}.txt").write_text(" ".join(open_here))


def jobs_of(*functions):
    return [Job(f"job {n}", function, (n,), str(n)) for n, function in enumerate(functions)]


POOLS = [Pool(), Pool(workers=2)]
"""Here, and on two local processes."""


@pytest.fixture(params=POOLS, ids=["here", "two workers"])
def pool(request):
    return request.param


def test_every_job_leaves_its_folder_in_order(tmp_path, pool):
    outcomes = run_jobs(jobs_of(*[write_square] * 4), tmp_path, pool)
    assert [(o.folder / "square.txt").read_text() for o in outcomes] == ["0", "1", "4", "9"]
    assert [o.name for o in outcomes] == ["job 0", "job 1", "job 2", "job 3"]
    assert not any(o.failure or o.reused for o in outcomes)


def test_a_failing_job_is_named_and_the_rest_stands(tmp_path, pool):
    outcomes = run_jobs(jobs_of(write_square, refuse, write_square), tmp_path, pool)
    assert [bool(o.failure) for o in outcomes] == [False, True, False]
    assert outcomes[1].failure == "ValueError: no square of 1"
    assert outcomes[1].folder is None
    assert not list(tmp_path.rglob("half-written.txt"))


def test_a_killed_worker_costs_only_its_job(tmp_path):
    heard = []
    outcomes = run_jobs(jobs_of(write_square, die, write_square, write_square), tmp_path, Pool(workers=2), heard.append)
    assert [bool(o.failure) for o in outcomes] == [False, True, False, False]
    assert "worker died" in outcomes[1].failure
    assert len(heard) == 4


@pytest.mark.skipif(not Path("/proc/net/tcp").exists(), reason="no table of ports on this system")
def test_local_workers_open_no_port(tmp_path):
    for outcome in run_jobs(jobs_of(listening, listening), tmp_path, Pool(workers=2)):
        told = list(outcome.folder.glob("*.txt"))
        assert len(told) == 2
        assert [file.read_text() for file in told] == ["", ""]


def test_ctrl_c_in_a_compiled_call_is_no_failed_job(tmp_path):
    def struck(number, folder):
        try:
            raise KeyboardInterrupt
        except KeyboardInterrupt as stop:
            raise SystemError("a compiled call returned a result with an exception set") from stop

    with pytest.raises(KeyboardInterrupt):
        run_jobs([Job("struck", struck, (1,), "1")], tmp_path)
    assert not list(tmp_path.iterdir())


def test_finished_jobs_are_taken_up_and_not_done_again(tmp_path):
    first = jobs_of(write_square, refuse)
    run_jobs(first, tmp_path)
    written = (tmp_path / first[0].key / "square.txt").stat()
    heard = []
    again = run_jobs(first, tmp_path, listener=heard.append)
    found = (again[0].folder / "square.txt").stat()
    assert (found.st_ino, found.st_mtime_ns) == (written.st_ino, written.st_mtime_ns)
    assert [o.reused for o in again] == [True, False]
    assert len(heard) == 2


def test_other_work_has_another_key():
    one, two = jobs_of(write_square, write_square)
    assert one.key != two.key
    assert one.key == jobs_of(write_square)[0].key
    assert one.key != jobs_of(refuse)[0].key


def test_jobs_that_are_the_same_are_done_once(tmp_path):
    count = []

    def note(number, folder):
        count.append(number)

    job = Job("twin", note, (7,), "7")
    outcomes = run_jobs([job, job], tmp_path)
    assert count == [7]
    assert len(outcomes) == 2


@pytest.mark.parametrize("address", ["tcp://127.0.0.1:1", "nonsense://x"])
def test_a_cluster_that_does_not_answer_is_named(tmp_path, address, monkeypatch):
    from distributed import Client

    monkeypatch.setattr("distributed.Client", lambda at, timeout: Client(at, timeout="0.5s"))
    with pytest.raises(ClusterError, match="no cluster answers") as caught:
        run_jobs(jobs_of(write_square), tmp_path, Pool(scheduler=address))
    assert address in str(caught.value)


def sign(number: int, folder: Path) -> None:
    (folder / "who.txt").write_text(str(os.getpid()))


def signed_by(outcomes):
    return [(outcome.folder / "who.txt").read_text() for outcome in outcomes]


def named(names, batch):
    return [Job(name, sign, (n,), f"{batch} {n}") for n, name in enumerate(names)]


def test_a_crew_stays_for_the_next_batch_and_goes_at_the_end(tmp_path):
    """Processes of the first batch do the second; jobs of one name go to one process; all are gone in the end."""
    with StandingCrew() as crew:
        pool = Pool(workers=2, crew=crew)
        first = signed_by(run_jobs(named("aabb", 1), tmp_path, pool))
        again = signed_by(run_jobs(named("aabb", 2), tmp_path, pool))
        assert set(again) <= set(first) and str(os.getpid()) not in first
        processes = [hand.process for hand in crew.resting]
        assert {str(process.pid) for process in processes} == set(first)
    assert not crew.resting and not any(process.is_alive() for process in processes)


def test_a_process_that_died_while_it_rested_is_replaced(tmp_path):
    with StandingCrew() as crew:
        pool = Pool(workers=2, crew=crew)
        run_jobs(named("a", 1), tmp_path, pool)
        crew.resting[0].process.kill()
        crew.resting[0].process.join()
        assert not any(outcome.failure for outcome in run_jobs(named("ab", 2), tmp_path, pool))


@pytest.mark.parametrize("damage", ["cut", "changed", "gone", "list", "old list"])
def test_a_kept_job_that_was_damaged_is_done_anew(tmp_path, damage):
    (first,) = run_jobs(jobs_of(write_square), tmp_path)
    file, listed = first.folder / "square.txt", first.folder / ".joistbay-files.json"
    if damage == "gone":
        file.unlink()
    elif damage.endswith("list"):
        listed.write_text('["square.txt"]' if damage == "old list" else "[[")
    else:
        file.write_text({"cut": "", "changed": "7"}[damage])
    (again,) = run_jobs(jobs_of(write_square), tmp_path)
    assert not again.reused
    assert file.read_text() == "0"
    assert run_jobs(jobs_of(write_square), tmp_path)[0].reused


def refused_there(full, folder: Path) -> None:
    """Work that one disk takes and another does not."""
    write_square(7, folder)
    if folder.is_relative_to(full):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


def test_what_a_full_disk_refuses_is_solved_all_the_same(tmp_path, pool):
    store = tmp_path / "full"
    jobs = [Job("first", write_square, (3,), "first"), *[Job(n, refused_there, (store,), n) for n in "abc"]]
    run_jobs(jobs[:1], store, pool)
    with pytest.warns(Remark, match="takes no more"):
        outcomes = run_jobs(jobs, store, pool)
    assert [o.failure for o in outcomes] == [""] * 4
    assert outcomes[0].folder.parent == store
    assert [(o.folder / "square.txt").read_text() for o in outcomes] == ["9", "49", "49", "49"]
    for folder in {o.folder.parent for o in outcomes} - {store}:
        drop_temporary(folder)
        assert not folder.exists()


def no_quota(number: int, folder: Path) -> None:
    """What a disk says that is full for this user, in words that this system does not use."""
    raise OSError(errno.EDQUOT, "kein Platz mehr")


def speak_of(number: int, folder: Path) -> None:
    raise RuntimeError(os.strerror(errno.ENOSPC))


def test_a_full_disk_is_known_by_its_error_and_not_by_words(tmp_path, pool):
    """The error stands behind the store's own, and may come from another process."""
    performer = perform_here if pool.is_local else local_processes.perform
    jobs = jobs_of(no_quota, speak_of)
    found = dict(performer(jobs, tmp_path, pool))
    assert [found[job.key].refused for job in jobs] == [True, False]
    assert all(outcome.folder is None for outcome in found.values())


def test_where_no_disk_takes_anything_the_job_fails(tmp_path, monkeypatch):
    def full():
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("sim.jobs.jobs.temporary_folder", full)
    (outcome,) = run_jobs([Job("a", refused_there, (tmp_path,), "a")], tmp_path)
    assert outcome.folder is None and os.strerror(errno.ENOSPC) in outcome.failure
