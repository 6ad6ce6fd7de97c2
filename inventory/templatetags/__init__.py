"""What templates may ask for about metal and money."""
