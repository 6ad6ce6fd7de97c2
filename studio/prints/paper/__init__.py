"""What all papers share (sizes, tiles, rims), and the papers that are about paper itself."""
