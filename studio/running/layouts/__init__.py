"""Work behind the layout table: the judge with a memory."""
