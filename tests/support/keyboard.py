"""The program at a terminal of its own, driven key by key."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import struct
import subprocess
import sys
import termios
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Self

ENTER, CTRL_C, CTRL_D = "\r", "\x03", "\x04"
_LONGEST_WAIT, _PATIENCE = 60.0, 3.0  # seconds
_ESCAPES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]|\x1b[=>]|\r|\x07")


class Keyboard:
    """A run of the program in a pseudo-terminal of 60 columns, which can move its cursor unless ``dumb``.

    Attributes:
        screen: everything written so far, without control sequences.
    """

    def __init__(self, arguments: Sequence[str], folder: Path, *, dumb: bool = True) -> None:
        self._ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 60, 0, 0))
        self._program = subprocess.Popen(
            [sys.executable, "-c", "from plumbend_cli.main import run; run()", *arguments],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            cwd=folder,
            env={**os.environ, "TERM": "dumb" if dumb else "xterm", "PYTHONIOENCODING": "utf-8"},
            preexec_fn=_take_the_terminal,
        )
        os.close(theirs)
        self.screen = ""
        self._seen = 0

    def type(self, keys: str) -> None:
        """Strike keys one by one."""
        for key in keys:
            os.write(self._ours, key.encode())

    def press(self, key: str, text: str) -> str:
        """Press Ctrl-C or Ctrl-D until ``text`` comes: one that falls between prompt and reading may go unheard."""
        for _ in range(round(_LONGEST_WAIT / _PATIENCE)):
            self.type(key)
            if self._comes(text, _PATIENCE):
                break
        return self.wait_for(text)

    def wait_for(self, text: str) -> str:
        """Read until ``text`` comes after all that was waited for before; what came up to its end."""
        if not self._comes(text, _LONGEST_WAIT):
            raise AssertionError(f"{text!r} did not come after:\n{self.screen[-2000:]}")
        end = self.screen.index(text, self._seen) + len(text)
        came, self._seen = self.screen[self._seen : end], end
        return came

    def answer(self, question: str, line: str) -> None:
        """Wait for a question and type a line."""
        self.wait_for(question)
        self.type(line + ENTER)

    def kill(self) -> None:
        """Take the program away at once, as a closed lid or an empty battery does."""
        self._program.kill()
        self._program.wait()
        if self._ours >= 0:
            os.close(self._ours)
        self._ours = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.kill()

    def ended(self) -> int:
        """The exit status, once the program has ended of itself."""
        while self._read(_LONGEST_WAIT):
            pass
        return self._program.wait(_LONGEST_WAIT)

    def _comes(self, text: str, seconds: float) -> bool:
        """Whether ``text`` comes within the time, after all that was waited for before."""
        until = time.monotonic() + seconds
        while text not in self.screen[self._seen :]:
            left = until - time.monotonic()
            if left <= 0 or not self._read(left):
                return False
        return True

    def _read(self, seconds: float) -> bool:
        """Read what came within the time; whether anything did."""
        if not select.select([self._ours], [], [], seconds)[0]:
            return False
        try:
            data = os.read(self._ours, 65536)
        except OSError:  # how Linux says that the other end is closed
            return False
        self.screen += _ESCAPES.sub("", data.decode("utf-8", errors="replace"))
        return bool(data)


def _take_the_terminal() -> None:
    # as a shell at a terminal does; tests started in the background are given a Ctrl-C that does nothing
    signal.signal(signal.SIGINT, signal.SIG_DFL)
    os.setsid()
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
