"""Forms of briefs: written anew or copied."""
