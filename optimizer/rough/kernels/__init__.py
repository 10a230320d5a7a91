"""The compiled part of mending a scan: the questions that are asked of every triangle."""
