"""What pages of all kinds share: navigation, filters, troubles, health."""
