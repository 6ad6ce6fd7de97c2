"""Forms at the bench: passphrase and mistakes, a school's own words."""
