"""What every classroom has: people, courses, safety, files, papers, and who may do what."""
