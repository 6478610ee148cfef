"""onnxruntime, kept from telling its maker of each start; nothing else in the program may import it.

As it comes it sends events over the network and leaves a lasting name of the computer in the user's cache. It looks at
the variable once, while it is loaded, and may have sent an event before it could be told in any other way.
"""

import os

os.environ["ORT_DISABLE_TELEMETRY"] = "1"

import onnxruntime

onnxruntime.disable_telemetry_events()

__all__ = ["onnxruntime"]
