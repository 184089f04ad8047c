"""What is in the scene: the settings of a job, the sculpt, runs, results. Knows `bridge` only."""
