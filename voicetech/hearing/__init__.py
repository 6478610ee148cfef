"""From sound to alternatives: frames, end-pointing and recognisers."""
