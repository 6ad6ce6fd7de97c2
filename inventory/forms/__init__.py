"""What people send about metal and money, bounded before anything is done with it."""
