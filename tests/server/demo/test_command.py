import fcntl
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[3]


def test_a_second_demo_in_one_folder_is_refused_before_it_touches_anything(tmp_path):
    (tmp_path / "var" / "demo").mkdir(parents=True)
    (tmp_path / "var" / "demo" / "date").write_text("of the first")
    environment = {name: value for name, value in os.environ.items() if not name.startswith("COMMONWEAR_")}
    environment |= {"PYTHONPATH": str(ROOT), "COMMONWEAR_DATA_DIR": str(tmp_path / "data")}
    with (tmp_path / "var" / "demo.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        command = [sys.executable, "-m", "server", "demo", "--check", "--port", "0"]
        second = subprocess.run(command, cwd=tmp_path, env=environment, capture_output=True, text=True, check=False)
    assert second.returncode == 1
    assert "running in this folder already" in second.stderr
    assert (tmp_path / "var" / "demo" / "date").read_text() == "of the first"
