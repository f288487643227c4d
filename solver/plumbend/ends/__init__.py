"""What the end of a tube is cut to: copes on straight and bent tubes, cuts on plates, square cuts and mitres."""
