"""Templates of tube ends as files: PDF at true scale, SVG and DXF for a cutter."""
