"""Air, helium and balloons."""
