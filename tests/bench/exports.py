"""What it costs to prepare a wear from its exports."""

import io
from dataclasses import replace
from datetime import datetime

import numpy as np
import pandas as pd

from pooling.preparation import Answers, Export, prepare
from pooling.simulate.trace import draw_exports
from tests.bench.runner import bench, ratio

ROUNDS = 15


def _as_csv(series, title: str) -> bytes:
    times = np.datetime_as_string(series.time, unit="s")
    rows = [f"{time.replace('T', ' ')},{value:.0f}" for time, value in zip(times, series.mg_dl, strict=True)]
    return "\n".join([f"time,{title}", *rows]).replace("nan", "high").encode()


@bench("14 days at one reading a minute read, checked and paired: pandas.read_csv of the same files", bound=3.0)
def fourteen_days_prepared() -> float:
    """A trace of 20,160 readings and 60 fingersticks, from bytes to findings, with the mappings that were confirmed."""
    drawn = draw_exports(np.random.default_rng(1), n_days=14, spacing_min=1, n_fingersticks=60)
    trace, meter = _as_csv(drawn.sensor, "sensor mg/dL"), _as_csv(drawn.meter, "fingerstick mg/dL")
    assert trace.count(b"\n") == 20_160
    inserted, ended = (datetime.fromisoformat(str(time)) for time in (drawn.inserted, drawn.ended))
    answers = Answers(inserted=inserted, ended=ended, prompt="scheduled")
    files = [Export(trace), Export(meter)]
    files = [replace(one, mapping=p.mapping) for one, p in zip(files, prepare(files).proposals, strict=True)]

    def prepared() -> None:
        done = prepare(files, answers)
        assert done.is_complete
        assert len(done.wears[0].pairs) >= 55

    def only_read() -> None:
        pd.read_csv(io.BytesIO(trace))
        pd.read_csv(io.BytesIO(meter))

    return ratio(prepared, only_read, rounds=ROUNDS)
