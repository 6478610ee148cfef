"""An empty Debian machine in a folder: nothing on it but Python, a user and a copy of this checkout."""

import os
import resource
import shlex
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

CHECKOUT: Final = Path(__file__).resolve().parents[2]
USER: Final = "worker"
HOME: Final = f"/srv/{USER}"
COPY: Final = f"{HOME}/voicetech"
PIP_LOG: Final = f"{HOME}/pip.log"
_USER_ID: Final = 1000
_NEEDED: Final = {"debootstrap": "debootstrap", "unshare": "util-linux", "chroot": "coreutils", "strace": "strace"}
"""Commands and the Debian packages that bring them."""
_MOUNTED: Final = """
mount -t proc proc "$1/proc"
mkdir -p "$1/dev/shm" "$1/dev/pts"
mount -t tmpfs tmpfs "$1/dev/shm"
mount -t devpts -o newinstance,ptmxmode=0666 devpts "$1/dev/pts"
mount --bind "$1/dev/pts/ptmx" "$1/dev/ptmx"
"""
_LOOPBACK: Final = (
    "import fcntl, socket, struct\n"
    "up = struct.pack('16sh14x', b'lo', 1)\n"
    "fcntl.ioctl(socket.socket(socket.AF_INET, socket.SOCK_DGRAM), 0x8914, up)\n"
)
"""A network of its own has a loopback that is down; `ip` may not be there to raise it."""


class NoMachineError(Exception):
    """No such machine can be made here; the message says why and what to do."""


@dataclass(frozen=True, slots=True)
class Done:
    """What came of a command on the machine."""

    status: int
    said: str
    took_s: float
    worked_s: float
    """User and system time of it and of all it started."""


class Machine:
    """The machine; commands run on it one at a time."""

    def __init__(self, root: Path) -> None:
        """Take the machine in this folder, or the folder it is to be made in."""
        _can_be_made()
        self.root = root

    @property
    def size_mb(self) -> float:
        """Return what is on its disk."""
        return size_mb(self.root)

    def make(self) -> None:
        """Fill it with Debian's smallest system and Python; NoMachineError where that fails."""
        command = ["debootstrap", "--variant=minbase", "--include=python3,python3-venv"]
        done = subprocess.run(
            [*command, _release(), str(self.root), _mirror()], capture_output=True, text=True, check=False
        )
        if done.returncode != 0:
            raise NoMachineError(f"debootstrap failed: {(done.stdout + done.stderr)[-500:]}")
        for archive in (self.root / "var/cache/apt/archives").glob("*.deb"):
            archive.unlink()
        named = ("--create-home", "--home-dir", HOME, "--uid", str(_USER_ID), USER)
        subprocess.run(["chroot", str(self.root), "useradd", *named], check=True)

    def take_checkout(self) -> None:
        """Copy the tracked files of this checkout to it, without their history."""
        copy = self.inside(COPY)
        shutil.rmtree(copy, ignore_errors=True)
        names = subprocess.run(
            ["git", "-c", f"safe.directory={CHECKOUT}", "ls-files", "-z"], cwd=CHECKOUT, capture_output=True, check=True
        )
        for name in filter(None, names.stdout.decode().split("\0")):
            (copy / name).parent.mkdir(parents=True, exist_ok=True)
            shutil.copy2(CHECKOUT / name, copy / name)
        self.gives(copy)

    def gives(self, path: Path) -> None:
        """Make a folder with all in it the user's own."""
        for each in (path, *path.rglob("*")):
            os.chown(each, _USER_ID, _USER_ID, follow_symlinks=False)

    def kept(self) -> set[str]:
        """Return the files in the user's home and in the folders for what is passing, the checkout left out."""
        places = [self.inside(HOME), self.inside("/tmp"), self.inside("/var/tmp")]
        found = (file for place in places for file in place.rglob("*") if not file.is_dir())
        return {f"/{file.relative_to(self.root)}" for file in found if not file.is_relative_to(self.inside(COPY))}

    def inside(self, path: str) -> Path:
        """Return where a path of the machine is."""
        return self.root / path.lstrip("/")

    def run(
        self,
        command: str,
        *,
        network: bool = False,
        typed: str = "",
        settings: Mapping[str, str] | None = None,
        traced: Path | None = None,
        longest_s: float = 3600.0,
    ) -> Done:
        """Return what came of a line for its shell, typed by the user in the copy of the checkout.

        Without the network nothing is reachable but the machine itself. `traced` takes what was sent, and to whom.
        """
        pip = _settings_of_pip() if network else {}
        given = {"PATH": "/usr/bin:/bin", "HOME": HOME, "USER": USER, "LANG": "C.UTF-8", **(settings or {}), **pip}
        stated = [f"{name}={value}" for name, value in given.items()]
        as_user = ["chroot", f"--userspec={_USER_ID}:{_USER_ID}", str(self.root), "/usr/bin/env", "-i", "-C", COPY]
        watched = [] if traced is None else [*_TRACE, "-o", str(traced)]
        inner = shlex.join([*watched, *as_user, *stated, "/bin/sh", "-c", command])
        script = _MOUNTED
        if network:
            script += "".join(_shared(self.root, path) for path in _folders_of_pip(pip))
            shutil.copyfile("/etc/resolv.conf", self.inside("/etc/resolv.conf"))
        else:
            script += f"{shlex.quote(sys.executable)} -c {shlex.quote(_LOOPBACK)}\n"
            self.inside("/etc/resolv.conf").write_text("", encoding="ascii")
        alone = ["unshare", "--mount", "--pid", "--fork", "--kill-child", *([] if network else ["--net"])]
        began_s, worked_s = time.monotonic(), _worked_s()
        done = subprocess.run(
            [*alone, "sh", "-ec", f"{script}\nexec {inner}", "sh", str(self.root)],
            input=typed,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            timeout=longest_s,
            check=False,
        )
        return Done(done.returncode, done.stdout, time.monotonic() - began_s, _worked_s() - worked_s)


_TRACE: Final = ("strace", "-f", "--seccomp-bpf", "-qq", "-e", "trace=connect,sendto,sendmsg,sendmmsg")


def size_mb(folder: Path) -> float:
    """Return what the files below a folder take."""
    return sum(file.lstat().st_size for file in folder.rglob("*") if not file.is_dir() or file.is_symlink()) / 1e6


def _worked_s() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _can_be_made() -> None:
    if os.geteuid() != 0:
        raise NoMachineError("Only root may make a machine of its own. Run it as root, or in a container.")
    missing = sorted({package for command, package in _NEEDED.items() if shutil.which(command) is None})
    if missing:
        raise NoMachineError(f"On Debian: apt install {' '.join(missing)}")


def _release() -> str:
    for line in Path("/etc/os-release").read_text(encoding="utf-8").splitlines():
        name, _, value = line.partition("=")
        if name == "VERSION_CODENAME":
            return value.strip('"')
    raise NoMachineError("This machine is no Debian: /etc/os-release has no VERSION_CODENAME.")


def _mirror() -> str:
    """Return where this machine's own packages come from, as apt is told."""
    command = ["apt-get", "indextargets", "--format", "$(SITE) $(RELEASE)", "Created-By: Packages", "Component: main"]
    found = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
    for site, release in (line.split() for line in found):
        if release == _release():
            return site
    raise NoMachineError("apt knows no mirror with the release of this machine.")


def _settings_of_pip() -> dict[str, str]:
    """Return how this machine's pip is told to reach its index, as environment variables."""
    told = {name: value for name, value in os.environ.items() if name.startswith("PIP_")}
    listed = subprocess.run([sys.executable, "-m", "pip", "config", "list"], capture_output=True, text=True, check=True)
    for line in listed.stdout.splitlines():
        name, _, value = line.partition("=")
        where, _, option = name.partition(".")
        if where == "global":
            told.setdefault(f"PIP_{option.upper().replace('-', '_')}", value.strip("'"))
    return {**told, "PIP_LOG": PIP_LOG}


def _folders_of_pip(settings: Mapping[str, str]) -> Iterator[Path]:
    """Give files and folders of this machine that pip is told to read."""
    for name, value in settings.items():
        for word in value.split() if name != "PIP_LOG" else ():
            path = Path(word.removeprefix("file://"))
            if path.is_absolute() and path.exists():
                # The pages of an index on this disk lead to files beside them.
                yield path.parent if word.startswith("file://") else path


def _shared(root: Path, path: Path) -> str:
    here, there = shlex.quote(str(path)), shlex.quote(f"{root}{path}")
    ready = f"mkdir -p {there}" if path.is_dir() else f"mkdir -p {shlex.quote(f'{root}{path.parent}')}; touch {there}"
    return f"{ready}; mount --bind -o ro {here} {there}\n"
