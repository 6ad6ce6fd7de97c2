"""Metal and money: what is on the rack, what it cost, and what a course may spend."""
