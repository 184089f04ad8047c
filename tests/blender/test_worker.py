"""The child process by itself: what it says, how it ends, and how that is told."""

import errno
import sys
import time

import pytest

_ENDS = {
    "raise OSError(28, 'No space left on device')": "disk is full",
    "raise MemoryError": "not enough memory",
    "import nosuchlibrary": "incomplete .*nosuchlibrary.*install it again",
    "raise ZeroDivisionError('by nought')": "run failed: ZeroDivisionError: by nought",
    "import sys; sys.exit(7)": "exit code 7",
}


@pytest.fixture
def child(addon, monkeypatch, tmp_path):
    """Start a script in place of the library."""
    started = []

    def start(script):
        host = tmp_path / "host.py"
        host.write_text(script, encoding="utf-8")
        folder = tmp_path / f"run {len(started)} ü"
        folder.mkdir()
        monkeypatch.setattr(addon.bridge.worker, "HOST", host)
        one = addon.bridge.worker.Worker(
            {"command": "look"}, folder, python=[sys.executable, "-I"], environment={}
        )
        started.append(one)
        return one

    yield start
    for one in started:
        one.close()


def _end(one):
    said = []
    for _ in range(1000):
        gone = one.ended()
        said += one.messages()
        if gone:
            return said
        time.sleep(0.01)
    pytest.fail("the child did not end")


def test_lines_come_whole_and_others_are_ignored(child):
    one = child(
        "import sys, time\n"
        'sys.stdout.write(\'noise\\n{"kind": "st\'); sys.stdout.flush(); time.sleep(0.3)\n'
        'sys.stdout.write(\'ep", "name": "ä"}\\n[1]\\n{"kind": "done"}\\n\')\n'
    )
    assert _end(one) == [{"kind": "step", "name": "ä"}, {"kind": "done"}]


def test_much_on_both_outputs_blocks_nothing(child):
    one = child(
        "import sys\nsys.stderr.write('x' * 4_000_000)\nprint('y' * 4_000_000)\nprint('{\"kind\": \"done\"}')"
    )
    assert _end(one) == [{"kind": "done"}]


@pytest.mark.parametrize("script", _ENDS)
def test_how_it_ended_is_told_in_words(child, script):
    one = child(script)
    assert _end(one) == []
    with pytest.raises(AssertionError, match=_ENDS[script]):
        raise AssertionError(one.last_words())


def test_the_request_names_the_folders_of_the_wheels(child, addon):
    one = child("import json, sys; print(json.dumps({'asked': json.load(open(sys.argv[1]))}))")
    asked = _end(one)[0]["asked"]
    assert asked["command"] == "look" and asked["python_path"] == addon.bridge.worker.part_folders()


def test_it_hears_that_it_is_to_stop(child):
    one = child("import sys\nassert sys.stdin.readline() == 'stop\\n'\nprint('{\"kind\": \"stopped\"}')")
    one.stop()
    assert _end(one) == [{"kind": "stopped"}] and one.stopping


def test_one_that_does_not_stop_is_ended(child):
    one = child("import time\nwhile True: time.sleep(1)")
    assert not one.ended()
    one.stop()
    assert _end(one) == [] and "signal" in one.last_words()


def test_closing_ends_it(child):
    one = child("import sys\nsys.stdin.read()\n")
    one.close()
    assert one.ended()


def test_its_input_ends_with_this_process(child):
    one = child(
        'import sys\nprint(\'{"kind": "begun"}\', flush=True)\nsys.stdin.read()\nprint(\'{"kind": "alone"}\')'
    )
    one._child.stdin.close()
    assert _end(one)[-1] == {"kind": "alone"}


def test_a_full_disk_while_the_sculpt_is_written(addon, scene, solid, monkeypatch):
    import bpy

    solid()

    def full(*_args, **_named):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(addon.scene.snapshot.np, "savez", full)
    with pytest.raises(RuntimeError, match=r"cannot be written to .*No space left"):
        bpy.ops.buckwright.look()
    assert addon.scene.running.now() is None
