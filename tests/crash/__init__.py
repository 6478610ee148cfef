"""The real program killed, cut off and starved of disk at random, and what was acknowledged looked for afterwards."""
