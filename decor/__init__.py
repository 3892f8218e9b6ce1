"""Knotbook: the job desk of a balloon-décor studio. Nothing is imported here, so that the arithmetic stays light."""
