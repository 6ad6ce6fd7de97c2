"""One rectangle with listed turns, made as short as can be. No other metal comes here."""
