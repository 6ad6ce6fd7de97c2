"""What is done at the bench, in which order and words. Who may sign is for `studio.steps.bench`."""
