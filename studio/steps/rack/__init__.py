"""Metal that the work gives back or finds a use for. The rack itself is `inventory.rack`."""
