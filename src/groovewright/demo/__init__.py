"""The invented player, arm and cartridges that show the job."""
