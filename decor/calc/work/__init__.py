"""Time, vans, money and cautions."""
