"""Pages: fetch by queries, ask steps, show. No rule and no query of their own."""
