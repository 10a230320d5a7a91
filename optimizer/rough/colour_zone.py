"""Colour boundaries found from the colours that a scan brings along."""

from optimizer.rough.model import Rough, Zone
from optimizer.rough.sites import Sites
from optimizer.rough.zone_table import ZoneTable


def zone_of_colours(rough: Rough, table: ZoneTable, sites: Sites) -> Zone:
    raise ValueError("is to be found from_colours, which is not built yet")
