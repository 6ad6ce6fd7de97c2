"""Better plans, compiled: pieces that overlap are moved apart. It lays no first plan."""
