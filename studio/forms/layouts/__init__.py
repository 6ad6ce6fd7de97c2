"""What the layout table sends."""
