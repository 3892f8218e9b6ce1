"""A picture as balloons: lattice of cells, colours, sampling, matching, chart, sheets."""
