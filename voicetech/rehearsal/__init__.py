"""A simulated appliance with hidden faults, and a technician who works on it through the real dialogue."""
