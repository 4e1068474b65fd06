"""What only some systems have stays in a few modules; no text is opened in whatever the machine's encoding is."""

from __future__ import annotations

import ast
from collections.abc import Iterator

from tests.test_structure import SOURCE, imports, modules

# Where each module of the standard library that some system lacks may be imported, by path under leakdown/.
HOMES = {
    "termios": ("cli/keys.py", "live/capture/port.py"),
    "tty": ("cli/keys.py", "live/virtual/wires.py"),
    "pty": ("live/virtual/wires.py",),
    "select": ("cli/keys.py", "live/capture/port.py", "live/virtual/wires.py"),  # of files: not on Windows
    "fcntl": ("jobs/lock.py",),
    "msvcrt": ("cli/keys.py", "jobs/lock.py"),
}
ONLY_SOMEWHERE = {
    *HOMES, "curses", "grp", "pwd", "readline", "resource", "spwd", "syslog", "crypt", "nis", "ossaudiodev", "winreg",
    "winsound", "_winapi", "nt", "posix", "asyncio.unix_events", "asyncio.windows_events",
}  # fmt: skip
# Names of `os`, `signal`, `time` and `socket` that some system lacks.
ONLY_NAMES = {
    "fork", "forkpty", "getuid", "geteuid", "getgid", "getegid", "getgroups", "setuid", "setsid", "killpg", "chown",
    "fchmod", "fchown", "lchown", "mkfifo", "mknod", "nice", "getloadavg", "uname", "sysconf", "wait", "wait3", "wait4",
    "startfile", "getppid_", "O_NOFOLLOW", "O_BINARY", "O_DIRECTORY", "O_NONBLOCK", "O_SYNC", "fdatasync", "pread",
    "pwrite", "statvfs", "sched_getaffinity", "sync", "ttyname", "set_blocking", "openpty", "SIGKILL", "SIGHUP",
    "SIGUSR1", "SIGUSR2", "SIGALRM", "SIGPIPE", "SIGCHLD", "SIGWINCH", "SIGTSTP", "SIGCONT", "SIGQUIT", "SIGBREAK",
    "CTRL_C_EVENT", "setitimer", "alarm", "pause", "sigwait", "pthread_kill", "tzset", "AF_UNIX", "SO_REUSEPORT",
}  # fmt: skip
NAMES_AT_HOME = {"live/virtual/wires.py"}  # behind its own import of pty
OPENERS = {"open", "read_text", "write_text", "fdopen", "TextIOWrapper"}


def _path(name: str) -> str:
    return modules()[name][0].relative_to(SOURCE).as_posix()


def test_modules_of_one_system_stay_in_their_homes():
    wrong = []
    for found in imports():
        package = found.imported.split(".")[0]
        if package in ONLY_SOMEWHERE and _path(found.importer) not in HOMES.get(package, ()):
            wrong.append(f"{_path(found.importer)}:{found.line} imports {found.imported}")
    assert not wrong, "\n".join(wrong)


def test_each_home_is_lived_in():
    there = {(found.imported.split(".")[0], _path(found.importer)) for found in imports()}
    assert not [(name, home) for name, homes in HOMES.items() for home in homes if (name, home) not in there]


def test_names_of_one_system_are_asked_for_first():
    """`getattr(os, "O_NOFOLLOW", 0)` and `hasattr(signal, "SIGHUP")` are strings, and pass."""
    wrong = []
    for name in modules():
        for node in ast.walk(modules()[name][1]):
            if (
                isinstance(node, ast.Attribute)
                and isinstance(node.value, ast.Name)
                and node.value.id in ("os", "signal", "time", "socket")
                and node.attr in ONLY_NAMES
                and _path(name) not in NAMES_AT_HOME
            ):
                wrong.append(f"{_path(name)}:{node.lineno} {node.value.id}.{node.attr}")
    assert not wrong, "\n".join(wrong)


def _opened(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """(line, call) of every call that opens text without saying in which encoding."""
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        called = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        if called not in OPENERS or any(word.arg == "encoding" for word in node.keywords):
            continue
        if called == "open" and not isinstance(node.func, ast.Name):
            continue  # of os, an image, a zip, a browser: bytes or no file
        texts = [arg.value for arg in node.args if isinstance(arg, ast.Constant) and isinstance(arg.value, str)]
        if called in ("open", "fdopen") and any("b" in text for text in texts[:2]):
            continue
        if called == "read_text" and ("utf-8" in texts or isinstance(node.func, ast.Name)):
            continue  # its first argument; or the project's own function of this name
        if called == "write_text" and isinstance(node.func, ast.Name):
            continue
        yield node.lineno, called


def test_texts_are_opened_in_an_encoding_that_is_said():
    wrong = [f"{_path(name)}:{line} {call}" for name, (_, tree) in modules().items() for line, call in _opened(tree)]
    assert not wrong, "\n".join(wrong)
    assert list(_opened(ast.parse("open('x')\nPath('x').read_text()\nopen('y', 'rb')\nPath('x').write_text('')"))) == [
        (1, "open"),
        (2, "read_text"),
        (4, "write_text"),
    ]
