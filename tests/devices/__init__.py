"""The job by voice through real sound devices: a sound server of its own, played into and pulled out."""
