"""How a cut plan looks, as paths and an order of sawing. It measures and decides nothing."""
