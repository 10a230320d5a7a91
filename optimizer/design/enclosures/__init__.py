"""Rigorous enclosures of a design's bodies over a whole box of parameters.

Every facet's normal and offset is followed through the cutting of the stone as a Taylor model
(``taylor``): a polynomial of fifth degree in the parameters, with a proven bound on what the
polynomial leaves out. ``outline`` has the girdle, ``tiers`` the facets, ``body`` the corners,
volume and outline area.
"""
