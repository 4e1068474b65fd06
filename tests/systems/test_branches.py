"""The branch of the other system, with its modules played: locks, ports, folders, the words of a command."""

from __future__ import annotations

import errno
import importlib.util
import json
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace

import pytest

from leakdown import shop_files
from leakdown.cli import console, keys
from leakdown.errors import GaugeError, RecordError
from leakdown.jobs import lock
from leakdown.live.capture.port import explain
from leakdown.live.profiles.files import own_folder

ROOT = Path(__file__).parents[2]


class Msvcrt(ModuleType):
    """Locks of one byte as Windows gives them, between the handles of this process."""

    LK_NBLCK = 2

    def __init__(self) -> None:
        super().__init__("msvcrt")
        self.held: dict[tuple[int, int], int] = {}

    def locking(self, handle: int, mode: int, count: int) -> None:
        assert mode == self.LK_NBLCK and count == 1
        place = (os.fstat(handle).st_ino, os.lseek(handle, 0, os.SEEK_CUR))
        if self.held.get(place, handle) != handle and self._open(self.held[place]):
            raise OSError(errno.EACCES, "Permission denied")
        self.held[place] = handle

    @staticmethod
    def _open(handle: int) -> bool:
        try:
            os.fstat(handle)
        except OSError:
            return False
        return True


@pytest.fixture
def of_windows(monkeypatch):
    """The module of locks as Windows imports it."""
    played = Msvcrt()
    monkeypatch.setitem(sys.modules, "msvcrt", played)
    monkeypatch.setattr(sys, "platform", "win32")
    spec = importlib.util.spec_from_file_location("lock_of_windows", lock.__file__)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module, played


def test_a_lock_on_windows_keeps_a_second_writer_out_and_is_freed(of_windows, tmp_path):
    module, played = of_windows
    with module.locked(tmp_path):
        ((_, offset),) = played.held
        assert offset > 1000, "beyond the text, which others may still read"
        assert f"process {os.getpid()}" in (tmp_path / ".lock").read_text("utf-8")
        busy = pytest.raises(RecordError, match=f"another leakdown .*process {os.getpid()}")
        with busy, module.locked(tmp_path, wait_s=0.0):
            raise AssertionError("both are in")
    with module.locked(tmp_path, wait_s=0.0):
        pass


def test_keys_of_a_machine_without_termios_come_from_its_console(monkeypatch):
    monkeypatch.setitem(sys.modules, "termios", None)
    monkeypatch.setattr(sys, "stdin", SimpleNamespace(isatty=lambda: True))
    monkeypatch.setitem(sys.modules, "msvcrt", SimpleNamespace(kbhit=lambda: False, getwch=str))
    assert isinstance(keys.keys_of_terminal(True), keys.WindowsKeys)
    monkeypatch.setitem(sys.modules, "msvcrt", None)
    assert isinstance(keys.keys_of_terminal(True), keys.NoKeys)


# Opening through pyserial's own half for Windows, on a kernel that is played and says what it was asked for.
# The form of the name is that of Microsoft's CreateFile documentation: COM10 and above need the device path.
_OPEN = """
import ctypes, json, sys
from types import SimpleNamespace
asked = []
class Function:
    def __init__(self, name): self.name = name
    def __call__(self, *given):
        if self.name.startswith("CreateFile"):
            asked.append(given[0])
            return -1
        return 1
class Kernel:
    def __getattr__(self, name): return Function(name)
kernel = Kernel()
ctypes.WinDLL = lambda *given, **more: kernel
ctypes.windll = SimpleNamespace(kernel32=kernel)
ctypes.WINFUNCTYPE = ctypes.CFUNCTYPE
ctypes.WinError = lambda *given: OSError(2, "The system cannot find the file specified.")
import serial
from serial import serialwin32, win32
win32.INVALID_HANDLE_VALUE = -1
serial.Serial = serialwin32.Serial
from leakdown.errors import GaugeError
from leakdown.live.capture.port import GaugePort
from leakdown.live.profiles.profile import Framing
said = []
for name in sys.argv[1:]:
    try:
        GaugePort(name, Framing())
    except GaugeError as error:
        said.append(str(error))
print(json.dumps([asked, said]))
"""


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="plays the kernel of Windows")
def test_ports_of_windows_by_their_numbers():
    run = subprocess.run(
        [sys.executable, "-c", _OPEN, "COM3", "COM10", "com27"],
        capture_output=True, text=True, cwd=ROOT, timeout=60, check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr[-2000:]
    asked, said = json.loads(run.stdout)
    assert asked == ["COM3", r"\\.\COM10", r"\\.\com27"]
    assert [text.split(":")[0] for text in said] == ["COM3", "COM10", "com27"]
    assert all("no such port" in text or "cannot" in text or "not" in text for text in said)


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("nt", "could not open port 'COM3': PermissionError(13, 'Access is denied.', None, 5)"),
        ("posix", "PermissionError: could not open port /dev/ttyUSB0: Permission denied"),
    ],
)
def test_a_port_that_is_denied_means_another_program_on_windows_and_rights_elsewhere(monkeypatch, name, text):
    monkeypatch.setattr("leakdown.live.capture.port.os", SimpleNamespace(name=name))
    error = explain(OSError(text), "COM3")
    assert isinstance(error, GaugeError)
    assert ("program" in str(error)) == (name == "nt") and ("group" in str(error)) == (name == "posix")


@pytest.mark.parametrize(
    ("name", "word", "wanted"),
    [
        ("posix", "a b.csv", "'a b.csv'"),
        ("posix", "it's", "'it'\"'\"'s'"),
        ("nt", "a b.csv", '"a b.csv"'),
        ("nt", "it's", "it's"),
        ("nt", "a&b.csv", '"a&b.csv"'),
        ("nt", "plain.csv", "plain.csv"),
        ("nt", "", '""'),
    ],
)
def test_words_are_quoted_for_the_shell_at_hand(monkeypatch, name, word, wanted):
    monkeypatch.setattr(console, "os", SimpleNamespace(name=name))
    assert console.typed(word) == wanted


def test_profiles_lie_where_the_settings_lie(monkeypatch, tmp_path):
    monkeypatch.delenv("LEAKDOWN_GAUGES", raising=False)
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    monkeypatch.setattr(shop_files, "_of_system", lambda kind, home: tmp_path / kind)
    assert own_folder() == tmp_path / "config" / "gauges"


def test_the_null_device_of_windows_is_no_settings(monkeypatch):
    import ntpath

    monkeypatch.setattr(shop_files.os, "devnull", "nul")
    monkeypatch.setattr(shop_files.os.path, "normcase", ntpath.normcase)
    assert shop_files.source(Path("NUL")) == ""
