"""voicetech talks an appliance technician through one fault-finding job, by voice or by text."""

__version__ = "1.0.0"
