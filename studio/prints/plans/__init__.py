"""The cut plan and the placement sheet at true size."""
