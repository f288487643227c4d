"""The tube's centreline: the chain, the evidence of each kind of point, the first guess and the fit."""
