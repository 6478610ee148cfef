"""What runs the speech model, told to keep to itself what it is used for before it is loaded.

From 1.32 on onnxruntime keeps a list of its use in the user's cache folder and sends it to its maker. Nothing leaves
this computer: the variable is read once, when the library is loaded (tried; a switch in its interface comes too late).
"""

import os
from typing import Final

QUIET_VARIABLE: Final = "ORT_DISABLE_TELEMETRY"

os.environ[QUIET_VARIABLE] = "1"

import onnxruntime  # noqa: E402 - not a moment earlier

__all__ = ["onnxruntime"]
