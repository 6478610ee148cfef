import shutil
from pathlib import Path

import pytest

from voicetech.hearing.weights import SHA256, WeightsError, find_weights


def test_the_installed_weights_are_the_calibrated_ones() -> None:
    assert find_weights(environment={}).tokenizer.is_file()


def test_a_folder_by_variable(tmp_path: Path) -> None:
    installed = find_weights(environment={})
    for path in (installed.encoder, installed.decoder, installed.tokenizer):
        shutil.copyfile(path, tmp_path / path.name)
    assert find_weights(environment={"VOICETECH_MODEL": str(tmp_path)}).encoder.parent == tmp_path


@pytest.mark.parametrize("spoil", ["absent folder", "absent file", "other bytes"])
def test_anything_else_is_refused_with_both_ways_out(tmp_path: Path, spoil: str) -> None:
    folder = tmp_path / "model"
    if spoil != "absent folder":
        folder.mkdir()
    if spoil == "other bytes":
        for name in SHA256:
            (folder / name).write_bytes(b"not these")
    with pytest.raises(WeightsError, match=r"moonshine-voice==0\.1\.0.*VOICETECH_MODEL") as refused:
        find_weights(folder, {})
    assert str(folder) in str(refused.value)
