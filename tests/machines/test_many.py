"""Three web processes, three workers and three sweeps, each with a folder of its own, make the bytes that one makes."""

from tests.machines.many import N, compare


def test_many_machines_share_the_work_and_make_the_same_edition():
    seen = compare(40, 14, seed=3, n_times=0)
    assert seen.published == seen.undisturbed
    assert len(seen.documents) == 1
    assert len(seen.requests_by_web) == N
    assert min(seen.requests_by_web) > 0
    assert len(seen.jobs_by_worker) == N
    assert sum(n_jobs > 0 for n_jobs in seen.jobs_by_worker) > 1, "several workers had a part in it"
    assert set(seen.jobs) == {"done"}
