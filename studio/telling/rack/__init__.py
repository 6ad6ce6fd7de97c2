"""What metal has to be bought for the open briefs."""
