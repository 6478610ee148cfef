"""A sound server with a microphone that recordings are played into, and a loudspeaker; both can be pulled out."""

import os
import shutil
import subprocess
import time
import wave
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType
from typing import Final, Self

MICROPHONE: Final = "bench"
"""What the microphone is called, as `--mic` takes it."""
_AIR: Final = "air"
"""The sink that recordings are played into; the microphone hears what it gets."""
_SPEAKER: Final = "speaker"
_PROGRAMS: Final = ("pulseaudio", "pactl", "paplay", "pacat")
_READY_WITHIN_S: Final = 10.0
_ALSA: Final = """
<{alsa}>
pcm.!default {{ type pulse }}
ctl.!default {{ type pulse }}
pcm.{microphone} {{
    type pulse
    device {microphone}
    hint {{ show on description "A microphone that recordings are played into" }}
}}
"""
_ALSA_CONFIG: Final = Path("/usr/share/alsa/alsa.conf")


def missing() -> str:
    """Return what is not on this machine, empty where nothing is: Debian's pulseaudio, libasound2-plugins and
    libportaudio2 have it.
    """
    gone = [name for name in _PROGRAMS if shutil.which(name) is None]
    if not _ALSA_CONFIG.exists():
        gone.append(str(_ALSA_CONFIG))
    return ", ".join(gone)


class SoundServer:
    """A running server in a folder of its own; no other server of this machine is touched."""

    def __init__(self, folder: Path, rate_hz: int = 48_000) -> None:
        """Start nothing yet; `rate_hz` is what the microphone works at."""
        self._folder = folder
        self._rate_hz = rate_hz
        self._server: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> Self:
        if missing():
            raise RuntimeError(f"not on this machine: {missing()}")
        (self._folder / "run").mkdir(mode=0o700, parents=True)
        (self._folder / "asound.conf").write_text(
            _ALSA.format(alsa=_ALSA_CONFIG, microphone=MICROPHONE), encoding="utf-8"
        )
        self.plug_in()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.pull_out()

    def plug_in(self) -> None:
        """Put microphone and loudspeaker in."""
        self._server = subprocess.Popen(
            [
                *("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no"),
                f"--log-target=newfile:{self._folder / 'server.log'}",
                *("-L", f"module-native-protocol-unix socket={self._socket} auth-anonymous=1"),
                *("-L", f"module-null-sink sink_name={_AIR} rate={self._rate_hz} channels=1"),
                *("-L", f"module-null-sink sink_name={_SPEAKER} rate=48000 channels=2"),
                *("-L", f"module-remap-source master={_AIR}.monitor source_name={MICROPHONE}"),
            ],
            env={**os.environ, "XDG_RUNTIME_DIR": str(self._folder / "run"), "HOME": str(self._folder)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        until_s = time.monotonic() + _READY_WITHIN_S
        while self._pactl("info").returncode != 0:
            if time.monotonic() > until_s or self._server.poll() is not None:
                raise RuntimeError(f"the sound server does not start; see {self._folder}")
            time.sleep(0.05)

    def pull_out(self) -> None:
        """Take both away from whoever has them open.

        The server goes with them: it would give a microphone that is left to whoever had the other one.
        """
        server, self._server = self._server, None
        if server is None:
            return
        server.terminate()
        try:
            server.wait(5)
        except subprocess.TimeoutExpired:
            server.kill()
            server.wait()

    @property
    def environment(self) -> Mapping[str, str]:
        """Return what a program needs to find these devices and no others."""
        return {
            "PULSE_SERVER": f"unix:{self._socket}",
            "PULSE_SINK": _SPEAKER,
            "PULSE_SOURCE": MICROPHONE,
            "ALSA_CONFIG_PATH": str(self._folder / "asound.conf"),
        }

    def hold_microphone(self, held: bool = True) -> None:
        """Keep the microphone from giving any sound, as another program does that has it for itself."""
        self._pactl("suspend-source", MICROPHONE, str(int(held))).check_returncode()

    def hang_loudspeaker(self, hung: bool = True) -> None:
        """Keep the loudspeaker from taking any sound, so that whoever plays waits."""
        self._pactl("suspend-sink", _SPEAKER, str(int(hung))).check_returncode()

    def speaking(self) -> bool:
        """Return whether anybody plays through the loudspeaker."""
        sinks = {line.split("\t")[1]: line.split("\t")[0] for line in self._listed("sinks")}
        return any(line.split("\t")[1] == sinks[_SPEAKER] for line in self._listed("sink-inputs"))

    def play(self, path: Path) -> None:
        """Play a recording into the microphone; returns when it has sounded."""
        subprocess.run(
            ["paplay", f"--device={_AIR}", str(path)], env={**os.environ, **self.environment}, check=True, timeout=60
        )

    def play_silence(self, seconds: int) -> None:
        """Let nothing sound for so long, while the microphone works."""
        quiet = self._folder / f"silence-{seconds}.wav"
        with wave.open(str(quiet), "wb") as sound:
            sound.setnchannels(1)
            sound.setsampwidth(2)
            sound.setframerate(self._rate_hz)
            sound.writeframes(bytes(2 * self._rate_hz * seconds))
        self.play(quiet)

    def stream(self, path: Path) -> "subprocess.Popen[bytes]":
        """Begin to play a recording into the microphone, beside others."""
        return subprocess.Popen(["paplay", f"--device={_AIR}", str(path)], env={**os.environ, **self.environment})

    @property
    def _socket(self) -> Path:
        return self._folder / "run" / "socket"

    def _listed(self, what: str) -> list[str]:
        return [line for line in self._pactl("list", "short", what).stdout.split("\n") if line]

    def _pactl(self, *arguments: str) -> "subprocess.CompletedProcess[str]":
        return subprocess.run(
            ["pactl", *arguments],
            env={**os.environ, "PULSE_SERVER": f"unix:{self._socket}"},
            capture_output=True,
            text=True,
            check=False,
            timeout=10,
        )
