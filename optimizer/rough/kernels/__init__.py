"""The compiled part of reading and mending a scan: what is asked of each triangle."""
