"""A piece without a scan: caliper readings become a closed mesh and what a rough file says.

Forms and keys are described in README.md beside this file. One module a form.
"""

from optimizer.rough.measured.build import build_measured as build_measured
