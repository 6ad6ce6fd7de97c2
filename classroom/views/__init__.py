"""Pages of people, sign-in and safety."""
