"""One file for each stage of a job."""
