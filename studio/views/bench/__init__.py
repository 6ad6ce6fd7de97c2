"""Pages at the bench, of a student, of a class and on a tablet."""
