"""The pattern sheet at true size."""
