"""Files replaced whole: whatever happens, either what was there stays or the new is there."""

from __future__ import annotations

import contextlib
import os
import stat
import tempfile
from pathlib import Path

from plumbend.errors import BadFile
from plumbend.job.files import read_bytes, refuse_file

_ANY_MAY_WRITE = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH


class KeptFile:
    """A file as it was last seen on the disk, so that nobody else's changes are overwritten.

    Attributes:
        path: as the user named it.
        seen: its bytes when it was opened or last saved here; None for a file that is yet to be made.
    """

    def __init__(self, path: Path, seen: bytes | None) -> None:
        self.path, self.seen = path, seen

    @classmethod
    def open(cls, path: Path) -> KeptFile:
        """A file that is there.

        Raises:
            BadFile: as :func:`plumbend.job.files.read_bytes`.
        """
        return cls(path, read_bytes(path))

    def check(self) -> None:
        """See that the file can be replaced and is as it was last seen.

        Raises:
            BadFile: it is not; nothing was written.
        """
        name = str(self.path)
        if self.seen is None:
            if self.path.exists():
                mend = "Choose another name, or open that file and go on with it."
                raise refuse_file(name, "there is a file or folder of this name already", mend)
            if not self.path.parent.is_dir():
                raise refuse_file(name, "the folder it should lie in is not there", "Make that folder first.")
            return
        if not self.path.exists():
            raise refuse_file(name, "the file is gone since it was opened", "Put it back where it was, then save.")
        if read_bytes(self.path) != self.seen:
            mend = "Nothing was overwritten: open the file again, and make your last changes again."
            raise refuse_file(name, "the file was changed by someone else since it was opened", mend)
        # a folder that may be written to would let it be replaced all the same
        if not (self.path.stat().st_mode & _ANY_MAY_WRITE and os.access(self.path, os.W_OK)):
            mend = "Take the write protection off, or copy it under another name and go on with the copy."
            raise refuse_file(name, "the file is read-only", mend)

    def replace(self, data: bytes) -> None:
        """Put ``data`` in the place of the file, unless that is what it holds.

        Raises:
            BadFile: as :meth:`check`, or the disk does not take it; the file is then as it was.
        """
        self.check()
        if data != self.seen:
            try:
                _replace(self.path, data, is_new=self.seen is None)
            except OSError as fault:
                raise _unwritten(self.path, fault) from None
            self.seen = data


def _unwritten(path: Path, fault: OSError) -> BadFile:
    what = f"the file cannot be written ({fault.strerror or 'the disk does not take it'})"
    mend = "Nothing of it was touched. Check that its disk has room and that you may write in its folder, then save."
    return refuse_file(str(path), what, mend)


def _replace(path: Path, data: bytes, is_new: bool) -> None:
    """Write beside the file, see it onto the disk, then let it take the file's name in one step."""
    target = path.resolve()  # where the name is a link, the link stays
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=f".{target.stem[:50]}-", suffix=".part")
    beside = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(_usual_mode() if is_new else stat.S_IMODE(target.stat().st_mode))
        beside.replace(target)
    except BaseException:
        with contextlib.suppress(OSError):
            beside.unlink()
        raise
    _sync_folder(target.parent)


def _usual_mode() -> int:
    """The mode of a new file; to ask for the mask is to set it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return 0o666 & ~mask


def _sync_folder(folder: Path) -> None:
    """See the new name onto the disk too, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
