"""Pages that this computer shows to its own browser and to nobody else."""
