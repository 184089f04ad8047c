"""One number for a whole run, room for its files, and nothing that is left of it whatever ends it."""

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from types import SimpleNamespace

import pytest


def test_a_whole_run_only_grows_and_reaches_its_end(addon):
    whole = addon.scene.whole_progress
    for command, pictures in (("look", False), ("make", False), ("make", True), ("forecast", False)):
        one = whole.WholeProgress(command, pictures=pictures)
        seen = [one.tell(name, share) for name in whole.USUAL_S for share in (0.0, 0.5, 1.0)]
        assert seen == sorted(seen) and seen[-1] == pytest.approx(1.0) and 0.0 < seen[4] < 0.3
    one = whole.WholeProgress("halves", pictures=False)
    assert one.tell("looking for planes", 0.0) < 0.5 < one.tell("surveying the halves", 0.0) < 1.0
    assert one.tell("writing", 1.0) == pytest.approx(1.0)
    one = whole.WholeProgress("make", pictures=False)
    far = one.tell("filling undercuts, compiling, the first time only", 0.0)
    assert far > 0.2, "what is kept from an earlier run was skipped"
    assert one.tell("finding the pull", 0.5) == far == one.tell("a step that nobody knows", 0.9)


def test_steps_of_the_library_are_known(addon):
    import re

    import buckwright

    root = Path(buckwright.__file__).parent
    told = set()
    for path in root.rglob("*.py"):
        told |= set(re.findall(r'\bclock\.step\("([^"]+)"\)', path.read_text(encoding="utf-8")))
    assert len(told) > 15 and told <= set(addon.scene.whole_progress.USUAL_S)


@pytest.fixture
def work(addon, scene, solid, fast):
    """A make that has begun."""
    import bpy

    solid()
    one = addon.scene.running.Work(bpy.context, "make")
    deadline = time.monotonic() + 60.0
    while not one.poll() and one.whole == 0.0 and time.monotonic() < deadline:
        time.sleep(0.01)
    yield one
    one.close()


def _left(work):
    """Folders that a run has left: Blender's, and the child's own."""
    import bpy

    scratch = Path(tempfile.gettempdir()).glob(f"buckwright-{work.process_id()}-*")
    return [*Path(bpy.app.tempdir).glob("buckwright-*"), *scratch]


def _is_there(process):
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    return True


def test_progress_and_stop_are_drawn_and_results_cannot_be_removed(addon, scene, work, monkeypatch):
    import bpy

    scene.buckwright_results.made = "LOOK"
    assert not bpy.ops.buckwright.remove_results.poll()
    panel, seen = bpy.types.BUCKWRIGHT_PT_run, []

    class _Layout:
        def __getattr__(self, name):
            return lambda *args, **named: seen.append((name, args, named)) or _Layout()

        def __setattr__(self, name, value):
            pass

    assert panel.poll(bpy.context)
    panel.draw(SimpleNamespace(layout=_Layout()), bpy.context)
    (bar,) = (named for name, _, named in seen if name == "progress")
    assert bar["factor"] == work.whole > 0.0 and bar["text"].startswith("Making, ")
    assert ("buckwright.stop",) in [args for name, args, _ in seen if name == "operator"]
    work.close()
    assert not panel.poll(bpy.context) and bpy.ops.buckwright.remove_results.poll()


def test_a_new_file_ends_the_run_and_leaves_nothing(addon, work):
    import bpy

    assert _left(work) and _is_there(work.process_id())
    bpy.ops.wm.read_homefile(use_empty=True, use_factory_startup=True)
    assert addon.scene.running.now() is None
    assert not _left(work) and not _is_there(work.process_id())


_CLOSES = """
import os, sys, time
os.environ["BLENDER_USER_RESOURCES"] = {profile!r}
import bpy, addon_utils
addon_utils.enable({module!r})
bpy.ops.mesh.primitive_cone_add(radius1=0.02, radius2=0.015, depth=0.02)
running = sys.modules[{module!r}].scene.running
work = running.Work(bpy.context, "make")
while not work.poll() and work.whole == 0.0:
    time.sleep(0.01)
print("BEGUN", work.process_id(), flush=True)
sys.exit(0)
"""


def test_closing_blender_ends_the_run_and_leaves_nothing(addon, tmp_path):
    environment = os.environ | {"TMPDIR": str(tmp_path)}
    script = _CLOSES.format(profile=os.environ["BLENDER_USER_RESOURCES"], module=addon.__name__)
    told = subprocess.run(
        [sys.executable, "-c", script],
        env=environment,
        capture_output=True,
        text=True,
        timeout=55,
        check=False,
    )
    assert "BEGUN" in told.stdout, told.stderr
    process = int(told.stdout.split("BEGUN")[1].split()[0])
    assert not _is_there(process)
    assert list(tmp_path.rglob("buckwright-*")) == []


def test_folders_of_a_blender_that_crashed_are_swept(addon):
    import bpy

    gone = subprocess.Popen([sys.executable, "-c", "pass"])
    gone.wait()
    aside = Path(tempfile.mkdtemp(prefix="blender_", dir=Path(bpy.app.tempdir).parent))
    try:
        old, own = (aside / f"buckwright-{number}-x" for number in (gone.pid, os.getpid()))
        for folder in (old, own):
            folder.mkdir()
            (folder / "job.toml").write_text("", encoding="utf-8")
        addon.scene.run_folders.sweep()
        assert not old.exists() and own.exists()
    finally:
        shutil.rmtree(aside)


def test_a_full_disk_is_told_before_the_work(addon, scene, solid, fast, monkeypatch, tmp_path):
    import bpy

    solid()
    usage = SimpleNamespace(total=10**12, used=10**12, free=10**6)
    monkeypatch.setattr(shutil, "disk_usage", lambda _place: usage)
    started = []
    monkeypatch.setattr(addon.scene.running, "Worker", lambda *_, **__: started.append(1))
    with pytest.raises(RuntimeError, match=r"nearly full: 1 MB are free, the run needs about \d+ MB"):
        bpy.ops.buckwright.make()
    assert not started and addon.scene.running.now() is None
    assert "nearly full" in addon.scene.running.trouble()
    assert not list(Path(bpy.app.tempdir).glob("buckwright-*"))
    # More faces need more room, and an export needs some where its files go.
    why_not = addon.scene.room_on_disk.why_not
    usage.free = 10**8
    assert why_not(1000, run=tmp_path) == "" and why_not(10**6, run=tmp_path) != ""
    assert why_not(1000, run=tmp_path, store=tmp_path / "not" / "there") != ""
