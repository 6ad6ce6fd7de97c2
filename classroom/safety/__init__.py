"""Topics, questions, permits, substances and incidents: what keeps people whole."""
